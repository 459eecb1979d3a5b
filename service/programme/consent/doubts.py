"""What makes it doubtful, in English, whether a picture may be shown: sentences that no clear yes or no was read from.

There are too many ways to say no to list them all. So a sentence is past doubt only where it speaks of the Moon, the
weather, the equipment and the like (`english_words.TOPICS`), and holds nothing that may have to do with showing; a word
of that is enough, but for uses that are surely about something else ("I did not use a filter"). Who reads it decides.
Children are told apart: see `child_in`. Pure.
"""

from __future__ import annotations

import re

from moondesk.service.programme.consent.english import lunar_names
from moondesk.service.programme.consent.english_words import NAMES, TOPICS

I = re.IGNORECASE  # noqa: E741
_NEG = (
    r"(?:not|never|no|without|cannot|nobody|no one|none|neither|nor|hardly|\w+n[\u2019']t|unwilling|against"
    r"|rather)"
)
SHOW = (
    r"(?:show(?:n|ing|s)?|us(?:e|ed|ing|es)|broadcast(?:ing|s)?|air(?:ed|ing)?|publish(?:ed|ing|es)?|featur(?:e"
    r"|ed|ing)"
    r"|shar(?:e|ed|ing)|display(?:ed|ing)?|present(?:ed|ing)?|post(?:ed|ing)?|televis(?:e|ed|ing)|print(?:ed|ing)?"
    r"|circulat\w+|distribut\w+|forward(?:ed|ing)?|put|appear\w*)"
)
_PUBLIC = (
    r"(?:tv|telly|television|air|programme|program|show|internet|web(?:site)?|online|social media|facebook"
    r"|instagram"
    r"|youtube|public(?:ly)?|anyone|anybody|everyone|the world|viewers|audience|others|other people|press)"
)
_OURS = r"(?:it|them|this|these|that|those|my|our|his|her|their|the|any|all)"
_PICTURE = r"(?:pictures?|photos?|photographs?|images?|shots?|pics?|mails?|e-mails?|names?|snaps?|submissions?)"
_THING = (
    r"(?:it|they|this|that|which|(?:the |my |our )?(?:picture|photo|image|shot|camera|phone|screen|telescope"
    r"|scope"
    r"|moon|frame|sensor|eyepiece|app)s?)"
)
#: So much of a sentence may stand between two words that belong together.
_NEAR = r"[^.!?]{0,60}"

#: Words that are about something else, taken out before anything is looked for.
_ELSEWHERE = re.compile(
    "|".join(
        (
            r"\b(?:i|we)\b[^.!?;]{0,25}?\b(?:us(?:e|ed|ing))\b(?: (?:a|an|any|my|our|the)\b)?",
            rf"\b{_THING} (?:really |only |just |still |also |even |hardly |barely )?(?:do(?:es)?(?: not|n[\u2019']t)|did(?: "
            rf"not"
            r"|n[\u2019']t)|do(?:es)?|did)? ?(?:really |quite |even |fully )?(?:shows?|showed|showing)\b",
            r"\bus(?:ed|ing) (?:a|an|my|the|only|just|with|no|it (?:for|with|on|at))\b",
            r"\bno \w+(?: \w+)? (?:was |were "
            r")?used\b",
            r"\b(?:you|they) (?:have |had )?(?:just |often |already |once )?(?:used|showed|shown|aired|featured|published"
            r"|shared"
            r"|presented) (?!it\b|this\b|that\b|my\b|our\b|without\b)\w+",
            r"\bus(?:e|ed) to\b",
            r"\b(?:great|lovely|wonderful|nice|fantastic|good|best|favou?rite|your|the|last night[\u2019']s"
            r"|tonight[\u2019']s|this)"
            r" (?:\w+ )?(?:show|programme|program|broadcast|presenters?|presentation)\b(?! (?:it|this|my|them))",
            r"\b(?:i|we)(?:[\u2019']ve| have| had)? (?:\w+ )?(?:removed?|deleted?|erased?|published|posted|presented|printed"
            r"|put"
            r"|shared|cancelled|dropped)\b(?! (?:my|our|the) (?:permission|consent))",
            r"\b(?:remov|delet|eras)(?:e|ed|ing|al of) (?:the |some |all |most |a few )?(?:noise|dust|stars?|gradient|spots?"
            r"|halo|blur"
            r"|background|glare|scratch\w*|artefacts?|colou?r\w*)",
            r"\bno (?:need|problem|doubt|idea|matter|wonder|worries)\b",
            r"\bwhy not\b",
            r"\bnot only\b",
            r"\bnot just\b",
            r"\bif you (?:look|zoom|like|wish|want|please|care|see|know|squint|can)\b",
            r"\bif i (?:am|was|may|remember|can"
            r"|had)\b",
            r"\bif (?:it|the \w+|they) (?:is|are|was|were|clears?|stays?|gets?)\b",
            r"(?:\bplease )?(?:\bonly |\bjust )?\buse my (?:first|last|full|real)? ?name\b",
            r"\bprivate (?:observatory"
            r"|garden|house|home|road)\b",
            r"\bpresent (?:time|moment|day|phase|month)\b",
            r"\bat present\b",
            r"\bon air\b(?= (?:at|every"
            r"|since))",
            r"\bthin air\b",
            r"\bthe air (?:was|is|above|over|outside)\b",
            r"\bin the (?:open |cold |night |evening |fresh )?air\b",
            r"\bair "
            r"mass\b",
            r"\b(?:did|do|does|had|have|has|could|can|would|will)(?: not|n[\u2019']t) (?:want|wish|like) to (?:miss|wait"
            r"|wake|go|lose"
            r"|use|stay|stop|drive|carry|leave|disturb)\b",
            r"\bweather permitting\b",
            r"\b(?:bus|tram|train|full) "
            r"stops?\b",
            r"\boh boy\b",
            r"\b(?:first|world)[- ]class\b",
            r"\b(?:how|learn\w*) to use\b",
            r"\bclass act\b",
            r"\bold[- ]school\b",
            r"\bafter school\b",
        )
    ),
    I,
)

#: Alone enough.
_WORDS = re.compile(
    "|".join(
        (
            r"\b(?:permissions?|permit\w*|consent\w*|copyright\w*|all rights|reserved|privacy|privately|private|confidential\w*"
            r"|secret\w*|internal(?:ly)?|anonym\w*|withdr[ae]w\w*|withdrawal|delet\w+|eras\w+|destroy\w*|revoke\w*|retract\w*"
            r"|forbid\w*|forbade|prohibit\w*|refrain\w*|refus\w+|declin\w+|reject\w*|object to|objection\w*|unauthori[sz]ed"
            r"|authori[sz]\w+|publication|publish\w*|unpublished|gdpr|legal\w*|lawyers?|solicitor\w*|licen[cs]\w+|royalt\w+"
            r"|fees?"
            r"|payment|agree\w*|disagree\w*|allow(?:ed|ing)?|cancel\w*|disregard|opt(?:ing|ed)? out|off the record|embargo\w*"
            r"|unhappy|upset|angry|complain\w*|regret\b(?!s from)|mistakenly|confidence|discreet\w*|blur (?:my|our|the) "
            r"(?:face|name))\b",
            "\u00a9",
            r"\(c\) ",
            r"\bby mistake\b",
            r"\bsent\b[^.!?]{0,30}\bby accident\b",
            r"\b(?:find out|know) where (?:i"
            r"|we) live\b",
            r"\bno (?:town|place|address)\b",
            r"\bchang\w+ (?:my|our|his|her|their) minds?\b",
            r"\bsecond "
            r"thoughts\b",
            r"\bbetween (?:us|you and me|ourselves)\b",
            r"\b(?:to|among) (?:yourself|yourselves|ourselves)\b",
            r"\boff "
            r"(?:the )?(?:air|tv)\b",
            rf"\btak(?:e|en|ing) (?:{_OURS} )?(?:\w+ )?(?:down|off(?: the)? (?:air|tv|site|web\w*|list|show))\b",
            rf"\b(?:remove|drop|pull|discard|forget|ignore|return|skip|leave out|keep|hold|stop|undo|bin|scrap) (?:\w+ "
            rf")?{_OURS} "
            rf"?(?:\w+ )?(?:{_PICTURE}|out|back|private|off)\b",
            r"\b(?:remove|discard|ignore|stop|keep) (?:it|this|that|them|these|those)\b(?! (?:morning|evening|up|going"
            r"|steady|still|sharp"
            r"|simple|short))",
            rf"\bstop (?:{SHOW})\b",
            r"\bplease (?:stop|keep|remove|ignore|forget|disregard)\b",
            r"\b(?:only|just|solely|purely|exclusively|strictly|alone) for (?:you|your|the team|the presenters?|information"
            r"|myself|me)\b",
            r"\bfor (?:you|your eyes|your information|the team) (?:only|alone)\b",
            r"\bfor your (?:own )?eyes\b",
            r"\bfor (?:\w+ )?(?:internal|personal|private|own) use\b",
            r"\bnot (?:meant |intended |suitable |ready "
            r")?for\b[^.!?]{0,30}"
            rf"\b(?:{_PUBLIC}|broadcast\w*|publication|use)\b",
            r"\b(?:not|isn[\u2019']t|wasn[\u2019']t) (?:mine|my (?:own )?(?:picture|photo|image|shot|work))\b",
            r"\b(?:found|took|downloaded|copied|saved|got) (?:it|this|that|them|these) (?:on|from|off) (?:the )?(?:internet"
            r"|web|google"
            r"|facebook|instagram|a website)\b",
            r"\bwithout (?:ask\w*|permission|my|our|telling)\b",
            r"\bleave (?:my|our"
            r"|his|her) name\b",
        )
    ),
    I,
)

#: A no with what it may be a no to.
_NEGATED = re.compile(
    "|".join(
        (
            rf"\b{_NEG}\b{_NEAR}\b{SHOW}\b",
            rf"\b{SHOW}\b[^.!?]{{0,30}}\b(?:not|never|no|nowhere)\b",
            rf"\b{_NEG}\b{_NEAR}\b(?:on|in|for|to|with|by) (?:\w+ )?{_PUBLIC}\b",
            rf"\b{_PUBLIC}\s*[:?,-]+\s*no\b",
            rf"\b{_NEG}\b[^.!?]{{0,40}}\b(?:my|our|his|her|full|last) (?:\w+ )?names?\b",
            rf"\b{_NEG} names?\b",
            rf"\b{_NEG}\b[^.!?]{{0,25}}\b(?:mention|(?<!its )(?<!the )(?<!a )(?<!any )name|identify|credit|quote)"
            r"(?:ed|ing|d)?\b(?! (?:of|for|all|every|it|the"
            rf"|that))",
            r"\b(?:\w+n[\u2019']t|not|never) (?:\w+ )?(?:want|wish|wanted|wants|wishes|approve|let|care for|intend\w*"
            r"|mean(?:t)?|think you"
            r" should|expect you)\b",
            r"\b(?:\w+n[\u2019']t|not) (?:\w+ )?(?:happy|comfortable|fine|ok|okay|glad|keen|sure) "
            r"(?:with|about|if"
            r"|that)\b",
            r"\b(?:would|i[\u2019']d|we[\u2019']d|she[\u2019']d|he[\u2019']d) (?:much )?(?:rather|prefer)\b",
            r"\b(?:nobody|no one|anyone|anybody|others?|everyone) (?:else )?(?:should|must|may|can|could|to|will) (?:see"
            r"|watch|know|look)\b",
            r"\bmust(?: not|n[\u2019']t) (?:leave|go|be|get)\b",
            r"\b(?:do not|don[\u2019']t)\s*[.!,]?\s*$",
            r"\bplease "
            r"(?:do not|don[\u2019']t)\b"
            r"(?! (?:worry|mind|hesitate|laugh|be))",
            r"\b(?:use|show|publish|broadcast) ?(?:it|this|my "
            r"name)?\?",
            r"\bbetter not\b",
        )
    ),
    I,
)

#: A condition near showing, and the programme as who shows.
_CONDITION = re.compile(
    rf"\b(?:if|unless|until|only|before|after|provided|as long as|condition\w*|except|pay|paid|ask me|let me "
    rf"know)\b{_NEAR}"
    rf"\b(?:you|be|being|programme|program|to) (?:\w+ ){{0,2}}{SHOW}\b|\b(?:you|be|being|please) (?:\w+ "
    rf"){{0,2}}{SHOW}\b{_NEAR}"
    r"\b(?:if|unless|until|only|before|provided|as long as|condition\w*|except|pay|paid|ask me|let me know)\b"
    rf"|\bonly {SHOW} {_OURS}\b",
    I,
)
#: What is asked of the programme, and is no asking about the Moon: what it is, only who reads it can say.
_KINDLY = (
    r"(?:see|look|find|spot|make out|tell|explain|say|help|identify|check|zoom|enjoy|notice|compare|guess"
    r"|imagine|believe"
    r"|recommend|suggest|note|excuse|forgive|pardon|wish|hope|click|wait|have|thank|answer|reply|greet|advise"
    r"|confirm|read"
    r"|recogni[sz]e|think|know|understand|hear|like|please|come|visit|come back|try|point|care|be|do better"
    r"|do it again"
    r"|keep (?:up|it up|going|well|safe|watching)|take (?:care|a look|part)|give (?:me|us|my|our|a)|let (?:me"
    r"|us) know"
    r"|stay (?:safe|well|warm|tuned)|send (?:me|us|my|our|greetings)|let's|get well|show me|show us)"
)
_ORDERS = (
    r"(?:take|leave|scrap|bin|dump|ditch|trash|get|put|hold|hide|keep|remove|use|show|stop|delete|drop|pull"
    r"|cut|lose"
    r"|forget|ignore|skip|respect|consider|treat|avoid|refrain|withdraw|return|spare|give|count|exclude|omit"
    r"|strike|erase"
    r"|wipe|destroy|block|ban|blur|hands off|stay|make sure|ensure|regard|handle|throw|void|discard|air"
    r"|broadcast|publish"
    r"|share|post|print|credit|name|mention|let|send|do|only|strictly|viewing)"
)
_ASKED = re.compile(
    "|".join(
        (
            rf"^\W*(?:(?:and|but|so|also|just|hello|hi|dear \w+|ps)\W+){{0,2}}(?:please|kindly)\W+(?!{_KINDLY}\b|attached"
            rf"|enclosed|accept"
            r"|below|here)\w",
            rf"^\W*(?:(?:and|but|so|also|just|then|ps)\W+){{0,2}}(?!{_KINDLY}\b|put together|do (?:you|they|we)|hold on|cut "
            rf"from"
            rf"|drop of){_ORDERS}\b(?! was| were| is\b)",
            rf"\b(?:could|can|would|will|can't|won't) (?:you|somebody|someone) (?:please |kindly |also |perhaps |maybe "
            rf"|possibly )?"
            rf"(?!{_KINDLY}\b)\w",
            rf"\byou (?:should|must|need to|have to|are to|ought to) (?:please |also "
            rf")?(?!{_KINDLY}\b)\w",
            rf"\b(?:ask|want|like|need|expect|beg|request|urge|trust|require) (?:of )?you (?:all |please )?(?:not |to "
            rf")+(?!{_KINDLY}\b)\w",
            r"\b(?:must|have to|would|want to) (?:ask|request|insist|object|refuse|decline|stress|point out)\b",
        )
    ),
    I,
)
#: Ways of speaking in which none of the other words need stand.
_SPOKEN = re.compile(
    "|".join(
        (
            r"\bget(?:ting)? rid of\b",
            r"\bt(?:ake|akes|aking|ook) (?:it |that |this |them |\w+ words? )?back\b",
            r"\bhands "
            r"off\b",
            r"\bout of (?:it|this|that|them|there)\b",
            r"\bleave (?:me|us|it|them|him|her|my|our|his)\b[^.!?]{0,30}\b(?:out"
            r"|alone|off)\b",
            r"\bstays? (?:with|between|among|inside|in|here)\b[^.!?]{0,15}\b(?:you|me|us|office|studio|house|family)\b",
            r"\bto leave (?:the|your|our)\b",
            r"\b(?:going|goes|go|gone|come|comes|coming) out\b(?! (?:side|well|nice|great"
            r"|good|better|so"
            r"|very|as|a |with|of|to|from|and|for|in|at|every|on (?:mon|tue|wed|thu|fri|sat|sun|the (?:balcony|porch|terrace"
            r"|deck|lawn))))",
            r"\bfor your information\b",
            r"\bfyi\b",
            r"\b(?:viewing|private|personal|internal|office|reference) (?:use "
            r")?only\b",
            r"\b(?:to|and|please|you) (?:bin|scrap|trash|ditch|dump)\b",
            r"\bsa(?:y|ys|id) no\b",
            r"\banswer (?:is|remains) "
            r"no\b",
            r"\b(?:nobody|no one|anyone|anybody|others?|people|strangers?|everyone|public|the world) (?:else )?(?:sees?|saw"
            r"|seen|watch\w*"
            r"|looks?|looking|gets?|finds?|knows?)\b",
            r"\bno (?:tv|telly|television|air|show|public|media|internet|web"
            r"|facebook|photos?"
            r"|pictures?|names?|credits?|fame|fuss"
            r"|publicity)\b",
            r"\bpublicity\b",
            r"\bspotlight\b",
            r"\bcamera[- ]shy\b",
            r"\bshy\b",
            r"\bembarrass\w+\b[^.!?]{0,40}\b(?:if|to see|on|show)\b",
            r"\bconditions?\b[^.!?]{0,20}\b(?:that|apply"
            r"|are)\b",
            r"\bon trust\b",
            r"\b(?:ok|okay|say-so|go-ahead|blessing|green light) (?:for|from"
            r"|to)\b",
            r"\bbelong\w*\b",
            r"\brestrict\w*\b",
            r"\bexclusiv\w*\b",
            r"\bagents?\b",
            r"\bemployers?\b",
            r"\bown(?:er|ed"
            r"|ership)\w*\b",
            r"\bis (?:mine|ours|his|hers|theirs)\b",
            r"\busage\b",
            r"\bcheck with\b",
            r"\b(?:husband|wife|partner|mother|mum|father|dad|boss|he|she) (?:\w+ )?(?:says|said|thinks|would|wants?"
            r"|prefers?|insists?|asks|asked)\b",
            r"\bfamily only\b",
            r"\bonly (?:the )?(?:family|friends|us)\b",
            r"\bunder wraps\b",
            r"\bhush\b",
            r"\bmum's the "
            r"word\b",
        )
    ),
    I,
)
#: A short sentence with a no is about the sky or the equipment, or nobody can tell what about.
_HARMLESS_NO = re.compile(
    r"\b(?:no|not|never|without|hardly|nothing|\w+n[\u2019']t)\b (?:\w+ ){0,2}?(?:clouds?|cloudy|filters?|tripod"
    r"|tracking|wind|windy"
    r"|moon|haze|hazy|fog|rain|snow|frost|problems?|idea|doubt|need|stars?|noise|edit\w*|process\w*|post|stack\w*"
    r"|flash|guid\w+"
    r"|barlow|zoom|telescope|camera|expert|experience|pollution|sleep|luck|time|chance|longer|more|less|better|easy"
    r"|perfect"
    r"|bad|great|sharp|sharpest|good|best|very|so|too|quite|much|many|as|yet|really|special|fancy|crater|focus"
    r"|steady|clear"
    r"|cold|dark|bright|visible|full|photoshop|trick\w*|sky|rotat\w+|crop\w*|enough|far|long|often|always|all"
    r"|every\w*|wait\w*"
    r"|move|moved|find|found|see|saw|seen|know|remember|believe|resist|figure|decide|tell|explain|miss|regret"
    r"|forget)\b",
    I,
)
_SHORT_NO = re.compile(r"\b(?:no|not|never|without|none|nobody|nothing|\w+n[\u2019']t)\b", I)
#: Said of everything and nothing.
_SMALL_TALK = re.compile(
    r"^\W*(?:please )?(?:only |just )?use my (?:first|last|full|real) name\b|^\W*(?:my|our) name is\b|^\W*i am \w+ "
    r"from\b|"
    r"^\W*(?:(?:a|my|another|the) )?(?:photos?|pictures?|images?|pics?|shots?) (?:for|from|of|attached)\b"
    r"|^\W*(?:(?:well|oh|ah|so|and|but|anyway)\W+)?(?:here(?:[\u2019']s| is| are) (?:a|an|my|our|another|the|one"
    r"|mine|some)\b|here (?:it|they|we) (?:is|are|goes?)|keep (?:it )?up|all the "
    r"best|as (?:promised|requested)"
    r"|which (?:one |do you )|(?:can|could|do) you (?:see|spot|make out)|what (?:do you think|is (?:it|this|that))"
    r"|have a (?:nice|good|great)"
    r"|(?:many|best|kind|warm) \w+,? ?\w*$|yours (?:sincerely|faithfully|truly)|looking forward|nice to|see you|bye"
    r"|take care|stay (?:safe|well)"
    r"|well done|good (?:job|work|luck)|what a |i (?:took|made) (?:it|this|these|that|them) (?:with|at|from|in|on"
    r"|through|this|just)"
    r"|(?:it|this|that) (?:was|is) (?:taken|made|shot) (?:with|at|from|in|on|through|by me|just))",
    I,
)
_WORD = re.compile(r"[^\W_]+")
#: Words of a sentence that is short.
SHORT = 7
#: Words of a clause that is looked at by itself, and what parts clauses.
CLAUSE = 7
_CLAUSES = re.compile(r"[;:\u2013\u2014()]|,? (?=(?:but|so|and|although|though|because|however|yet|or)\b)|, ", I)
#: A sentence of so few words, without a no, is a title or a greeting.
WORDLESS = 3
#: Of a short answer: nothing but a no and what is said with it.
_ANSWER = re.compile(
    r"^\W*(?:(?:no|not|never|nope|nah|none|sorry|thanks|thank|you|please|do|don[\u2019']t|rather"
    r"|better|i|i[\u2019']d"
    r"|would|prefer|this|that|time|it|way|absolutely|really|afraid|say|we|but|and|one|can"
    r"|can[\u2019']t|cannot|must"
    r"|should|won[\u2019']t|wouldn[\u2019']t|shouldn[\u2019']t|mustn[\u2019']t|may|again|yet|now"
    r"|now|my|answer|is|the|dear|hello|hi)"
    r"\W*)+$",
    I,
)
_A_NO = re.compile(r"\b(?:no|not|never|nope|nah|none|cannot|\w+n[\u2019']t|rather|better)\b", I)
#: A mail's formula below it: nobody has refused, but nobody can tell.
DISCLAIMER = re.compile(
    r"\b(?:e-?mail|message|communication|transmission|attachments?"
    r"|information)\b[^.!?]{0,80}\b(?:confidential|"
    r"intended|privileged|addressee|recipient)\b|\b(?:intended|wrong|unintended) (?:recipient"
    r"|addressee)s?\b",
    I,
)

_NUMBER = (
    r"(?:[3-9]|1[0-7]|three|four|five|six|seven|eight|nine|ten|eleven|twelve|thirteen|fourteen|fifteen|sixteen"
    r"|seventeen)"
)
_UNIT = (
    r"(?:mm|cm|m|km|miles?|inch(?:es)?|feet|ft|\"|[\u2033\u201d]|degrees?|\u00b0|hours?|minutes?|min|seconds?"
    r"|days?|nights?|weeks?"
    r"|months?|%|percent|o[\u2019']clock|am|pm|of|out|in a|x|times|st|th)"
)
_CHILD = (
    r"(?:(?:grand|god|step)?(?:sons?|daughters?|child|children|kids?)|nephews?|nieces?|pupils?|teen(?:ager)?s?"
    r"|boys?|girls?"
    r"|toddlers?|classmates|youngsters?|schoolboys?|schoolgirls?|schoolchild(?:ren)?|lads?|lass(?:es)?"
    r"|youngest|eldest|kid (?:brother|sister)|little (?:one|brother"
    r"|sister|boy|girl|man|lad|lass)"
    r"|younger (?:brother|sister)|minors?|students?)"
)
_OTHER_OLD = (
    r"(?:telescope|scope|camera|phone|refractor|reflector|dob\w*|binocular\w*|lens|mount|eyepiece|moon|car"
    r"|dog|cat|computer)"
)
_TOOK = r"(?:took|takes|taken|shot|made|makes|photographed|snapped|captured|did|caught|sent|sends|wants?|drew)"
_CHILD_TOLD = re.compile(
    "|".join(
        (
            rf"\b(?:my|our|his|her|their|a|the) (?:\w+ ){{0,2}}{_CHILD}\b[^.!?]{{0,40}}\b{_TOOK}\b",
            rf"\b(?:taken|shot|made|photographed|snapped|captured|picture|photo|image)s? (?:by|of|from) (?:my|our|a|the) "
            rf"(?:\w+ ){{0,2}}{_CHILD}\b",
            rf"\b(?:i am|i[\u2019']m|(?:he|she|who)(?: is|[\u2019']s)|aged?:?|(?:has|have|just) turned|turned|turns) (?:only "
            rf"|just |now |about |nearly )?"
            rf"{_NUMBER}\b(?!\s*{_UNIT}(?:\W|$))",
            rf"\b{_CHILD},? \(?(?:aged? )?{_NUMBER}\b(?! {_UNIT}\b)",
            rf"\b{_NUMBER}[- ]years?[- ]old\b(?![\u2019']?s? "
            rf"(?:\w+ )?(?!moon){_OTHER_OLD})",
            rf"\b{_NUMBER} ?(?:yo|y/o|y\.o\.)(?:\W|$)",
            rf"\((?:aged? )?{_NUMBER}(?: years?(?: old)?)?\)",
            r"\b(?:\d{1,2}(?:st|nd|rd|th)|first|second|third|fourth|fifth|sixth|seventh|eighth"
            r"|ninth)[- ]grade(?:rs?)?\b",
            r"\bgrade [1-9]\b",
            r"\b(?:class|year|form) (?:1[0-3]|[1-9]|one|two|three|four|five|six|seven|eight|nine|ten)[a-f]?\b(?! (?:of"
            r"|ago))",
            r"\b(?:our|my|this) (?:\w+ )?(?:school|class)\b",
            r"\bschool ?(?:boy|girl|child|children|club|project|class|trip|team)\b",
        )
    ),
    I,
)
_CHILD_SPOKEN = re.compile(
    rf"\b(?:{_CHILD}|schools?|kindergarten|preschool|nursery|class(?:es|room)?|scouts|grader"
    rf"|homework)\b",
    I,
)
_OLD_THING = re.compile(
    rf"\b{_OTHER_OLD}s?\b[^.!?]{{0,20}}\b{_NUMBER} years?(?: old)?\b|\b(?:it|moon)(?: is"
    rf"|[\u2019']s|) (?:\w+ )?{_NUMBER} (?:\w+ )?"
    r"(?:days?|hours?|years?) old\b",
    I,
)


def plain_of(sentence: str) -> str:
    """A sentence without what is surely about something else."""
    return _ELSEWHERE.sub(" ", sentence)


def is_doubtful(sentence: str) -> bool:
    """Whether a sentence may have to do with showing the picture or not, so that somebody must read it."""
    return is_restrictive(sentence) or _ASKED.search(plain_of(sentence)) is not None or _is_off_the_subject(sentence)


def is_restrictive(sentence: str) -> bool:
    """Whether a sentence holds words that may restrict what is done with the picture."""
    plain = plain_of(sentence)
    if len(plain) < 120 and _ANSWER.match(plain) and _A_NO.search(plain):
        return True
    if len(plain.split()) <= SHORT and _SHORT_NO.search(_HARMLESS_NO.sub(" ", plain)):
        return True
    return any(pattern.search(plain) for pattern in (_WORDS, _NEGATED, _CONDITION, DISCLAIMER, _SPOKEN))


def _is_off_the_subject(sentence: str) -> bool:
    if _SMALL_TALK.match(sentence):
        return False
    # a longer clause of its own may turn to something else: "here is my Moon, but ..."
    clauses = [c for c in _CLAUSES.split(sentence) if len(c.split()) >= CLAUSE]
    return not _speaks_of_the_sky(sentence) or any(
        not _speaks_of_the_sky(c) and not _SMALL_TALK.match(c) for c in clauses
    )


def _speaks_of_the_sky(sentence: str) -> bool:
    """Whether a word of the subject stands in a sentence; also of three words or fewer, and where there are numbers."""
    words = _WORD.findall(sentence)
    return len(words) <= WORDLESS or any(_is_topic(word) for word in words)


def _is_topic(word: str) -> bool:
    small = word.casefold()
    return (
        bool({small, small.rstrip("s")} & TOPICS)
        or any(c.isdigit() for c in word)
        or small in NAMES
        or (word[0].isupper() and small in lunar_names())
    )


_WITHDRAWN = re.compile(
    r"\b(?:withdr[ae]w\w*|revoke\w*|retract\w*|delet\w+|eras\w+|destroy\w*|remov\w+|chang\w+ (?:my|our) minds?"
    r"|second thoughts|instead of|earlier|previous(?:ly)?|by mistake|forget|ignore|disregard|no longer|any ?more"
    r"|after all|last (?:one|picture|photo|week|night)|yesterday|others?)\b",
    I,
)
_REPLACES = re.compile(r"\breplac\w+ (?:it|the|my|that|this)\b|\bwrong (?:one|picture|photo|image|file)\b", I)


def is_withdrawal(sentence: str) -> bool:
    """Whether a sentence may take back something that was sent before."""
    plain = plain_of(sentence)
    return _REPLACES.search(plain) is not None or (_WITHDRAWN.search(plain) is not None and is_restrictive(sentence))


def child_spoken(sentence: str) -> bool:
    """Whether a sentence speaks of a child or a school, whoever took the picture."""
    return _CHILD_SPOKEN.search(plain_of(sentence)) is not None


def child_in(sentence: str) -> bool:
    """Whether a sentence tells that a child took the picture."""
    return _CHILD_TOLD.search(_OLD_THING.sub(" ", plain_of(sentence))) is not None
