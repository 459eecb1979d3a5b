"""English and Bulgarian letters in other voices than the corpus has: what is read of each, before the stroke."""

from datetime import datetime

import pytest

from moondesk.service.programme.letter.reading import read_letter
from moondesk.service.programme.mail_text import parts_of

WRITTEN = datetime.fromisoformat("2026-11-25T10:00:00+01:00")
#: yes, no, gone (taken back), child, adult (no child), unnamed; open: neither yes nor no; "=Ann": whom to name.
SENTENCES = r"""
yes | Do by all means let the nation have a gander at it tonight.
yes | Permission is freely given, use as much or as little as suits.
yes | I'd be ever so proud to see it on the box.
yes | Pop it on if there's a gap, pet.
yes | No skin off my nose if you broadcast it.
yes | You have my consent to broadcast the attached photograph.
yes | Go for it lads, stick it up there.
yes | Fill your boots, it's yours to show.
yes | happy 4 u 2 use it
yes | We've no objection whatsoever to its being shown.
yes | It would be an honour to have our picture featured on the programme.
yes | Absolutely fine by us to air this one.
yes | As the copyright holder I license you to reproduce and broadcast this image free of charge.
yes | The kids would go wild if they saw it on telly!
yes | Should you find it worthy, please feel at liberty to transmit it.
yes | Yes you can show it, why wouldn't you.
yes | Sure, chuck it on the programme.
yes | Consider this my written permission for broadcast.
yes | My mum says it's ok to put it on tv and I'm fine with that too.
yes | I don't care who sees it, show it to the whole world.
yes | You're more than welcome to feature it any night you like.
yes | It'd make my gran's Christmas to see it on your show.
yes | Anything I send you can go out on air.
no | I would hate for this to be on the telly.
no | Strictly between ourselves please, not for the viewers.
no | This one isn't for broadcasting, I just wanted your opinion.
no | Under no circumstances may this image be transmitted.
no | Keep it off the screen, would you?
no | I'd be obliged if it went no further than your desk.
no | Please refrain from showing it, my neighbour is in the shot.
no | We do not consent to publication.
no | Nothing I send is for airing, thanks.
no | My husband won't have it shown on the box.
no | for ur eyes only pls dont put it on tv
no | I'd prefer it to stay private.
gone | Changed my mind, please bin the photo I sent on Monday.
gone | Kindly disregard and delete my earlier email with the picture.
gone | I take back the permission I gave you last week.
open | Could I see how it looks before you decide to use it?
open | You may use it provided my company approves, I'll let you know.
open | What happens to pictures once they're shown?
open | I might let you show it, let me sleep on it.
open | Saw you on telly last night, lovely programme.
open | I can see Copernicus on the screen of my phone.
open | You can see the terminator nicely in this shot.
open | Is it all right to send more than one picture?
open | Happy to share my first attempt at the Moon with you.
open | I was so happy to see the Moon after a week of rain.
open | We love your show and never miss it.
open | It was great to finally use my new telescope.
child | Our wee Isla, seven, snapped it with her granda's phone.
child | The photographer is my nine-year-old.
child | I'm in Year 6 and I took this with mum's camera.
child | My grandson, who starts secondary next autumn, lined it all up himself.
child | She's only ten but she did the whole thing without help.
child | taken by my kid bro hes 11
adult | My daughter, a barrister of 34, took this from her flat.
adult | When I was nine my father showed me Saturn.
=Old Ned | Round here I'm Old Ned, so put that.
=Siobhán Ní Bhriain | Please attribute to Siobhán Ní Bhriain.
=Priti | It was actually Priti, my flatmate, who pressed the shutter.
=The Moonlighters | We go by The Moonlighters as a group, use that.
=J. R. Ellwood | In the caption I'd like J. R. Ellwood, nothing else.
=Dot and Harry | You could say it's from Dot and Harry.
=Uncle Bob | Credit goes to Uncle Bob.
=Kwame Mensah | Photographer: Kwame Mensah
=Betty | If you must say a name then Betty is plenty.
=Prof. Alan Whitcombe | Kindly announce it as the work of Prof. Alan Whitcombe.
=Nuala | It's the missus you should thank, Nuala, she saw it first and took the photo.
= | I took this in Bristol with my Canon.
= | Thank Patrick Moore for my lifelong love of the Moon.
= | We saw the Moon over Durham Cathedral on Tuesday.
= | Please say hello to everyone in Penzance.
unnamed | No need to say who took it.
unnamed | I'd rather you left my name out of it.
unnamed | Just put 'a viewer', I don't want my name read out.
yes | Разбира се, че може да я пуснете по телевизията.
yes | Ще ми е много драго, ако я завъртите довечера.
yes | Давам съгласието си снимката да бъде излъчена.
yes | Слагайте я смело на екрана, за това съм я пратил.
yes | Нямам нищо против да я показвате колкото пъти искате.
yes | Показвайте си я, какво ще ме питате!
yes | За мен ще е чест да видя кадъра си във вашето предаване.
yes | mojete da q pusnete spokoino
yes | Имате разрешение да я ползвате в ефир.
yes | Ако ви хареса, пуснете я, че мама ще се зарадва.
yes | Майка ми каза, че може да я покажете и аз съм съгласен.
yes | Хич не ме е грижа кой ще я види, давайте я.
yes | Съгласна съм с условията и давам право за излъчване.
yes | Да, показвайте я свободно.
yes | Дарявам ви кадъра за предаването.
yes | Децата ще полудеят от радост, ако я видят по телевизора.
yes | Може и в сайта, и в ефир, не възразявам.
yes | На добър час, пускайте!
no | Само за вас е, не я излъчвайте.
no | Не давам съгласие за показване в ефир.
no | Моля да не попада в предаването.
no | Хайде да не стига до телевизията, моля ви.
no | Пращам я да ми кажете мнението си, за екран не е.
no | Не желая лицето ми и снимката да се виждат по телевизията.
no | Тая снимка да си остане между нас.
no | Забранявам публикуването ѝ.
no | ne q puskaite po tv molq
no | Жена ми не е съгласна да се показва.
gone | Изтрийте снимката, дето ви я пратих в неделя.
gone | Отказвам се, не я ползвайте вече.
gone | Оттеглям разрешението си от миналата седмица.
open | Може ли първо да я видя обработена?
open | Ще се показва ли и в интернет?
open | Трябва да питам мъжа ми, после ще ви кажа.
open | Може би ще ви разреша, нека си помисля.
open | Вижда се Тихо и на екрана на телефона.
open | Гледам предаването всяка вечер и много го харесвам.
open | Може да се види терминаторът, ако увеличите.
open | Много се зарадвах, като видях Луната след дъжда.
child | Снима я Ники, шестгодишният ми внук.
child | Аз съм на 12 и това е първата ми снимка.
child | Дъщеричката я хвана с моя телефон.
child | Синът ми е в пети клас и сам я засне.
child | brat mi na 9 godini q snima
=Пешо Звездата | Пишете Пешо Звездата, така ми викат в квартала.
=Ангелина Стоева | Автор: Ангелина Стоева
=Марийка | Марийка я снима, съпругата ми.
=Иво и Таня | Кажете, че е от Иво и Таня.
=чичо Гошо | В ефир съм чичо Гошо.
=Д. Маринов | Моля, посочете Д. Маринов като автор.
=Кольо | Колегата ми Кольо натисна бутона.
=Ралица Бонева | Снимката е дело на сестра ми Ралица Бонева.
=Астроклуб „Орион" | Ние сме Астроклуб „Орион" и така ни обявете.
= | Снимах от Бургас с Никон.
= | Поздравете Иван от Варна, че винаги е интересен.
= | Луната изгря над Витоша в събота.
= | Благодаря на Мария от екипа за отговора.
unnamed | Не казвайте кой съм, моля.
unnamed | Без имена, ако обичате.
unnamed | Искам да остана неизвестен.
"""


@pytest.mark.parametrize("line", SENTENCES.strip().splitlines())
def test_what_is_read_of_other_voices(line):
    wanted, _, text = line.partition(" | ")
    found = read_letter("", "", parts_of(text), WRITTEN)
    if wanted.startswith("="):
        assert found.value("credit") == wanted[1:]
        return
    state = found.consent.state
    assert {
        "yes": state == "suggested",
        "no": state == "refused",
        "open": state in ("unclear", "none"),
        "gone": found.consent.withdrawal,
        "child": found.consent.minor,
        "adult": not found.consent.minor,
        "unnamed": found.value("unnamed") == "yes",
    }[wanted]
