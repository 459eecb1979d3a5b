"""English as people write it: what of a sentence must be read, each sentence a letter of its own."""

import pytest

from moondesk.service.programme.consent.wording import read_words

NO = """
Please keep this one to yourselves.
I would prefer that it isn't shown.
Not for broadcast, thanks.
I'd rather my photo wasn't used.
Kindly refrain from telecasting my picture.
This is a private photo.
We do not give permission for publication.
Don't put it on the telly, my garden's a tip.
For your eyes only, please.
I'd be mortified if that went out on air.
You can look but please don't broadcast it.
no tv pls
I am not happy for this to be used.
Please leave mine out tonight.
Let's keep this between ourselves.
I object to this being published.
It's only for the team.
I don't want strangers seeing my back yard.
Under no circumstances may this image be aired.
My wife says no to it being on TV.
I never agreed to have my pictures on the internet.
Just sharing it with you, not with the world.
I don't consent to any use of this photograph.
It is not meant for the public.
Nobody else should see it.
Please do not post it on Facebook or anywhere.
I wish this to remain private.
Sent for your enjoyment only, not the audience's.
Could you not show this one?
Hands off, this one stays with me.
I'd sooner you didn't.
I'm asking you not to air it.
No permission is granted for any broadcast.
Leave it off the programme please.
dont use it ok
Better not show it.
Count me out for the show.
I would not like it to appear on screen.
My boss must not see it, so no airing please.
Permission to broadcast: No
Do not publish.
This shouldn't leave the office.
I'm sending it in confidence.
Wouldn't want the whole parish gawking at it on the box.
You haven't my permission to screen it.
I'd be grateful if you did not show my picture.
I'm camera shy so keep my moon off the box.
Not for the audience, only for the presenters.
Please, no publication.
This was sent to you personally, not to the programme.
I will not have it broadcast.
You must not use this picture in any form.
Sharing it further is not allowed.
I reserve all rights and allow no broadcast.
Would you mind not showing it?
May I ask you not to publish it?
I hope you won't put it on TV.
I beg you not to show it.
Having it on the telly would embarrass my wife, so don't.
The photograph is strictly personal and not to be reproduced.
I want to keep it off social media and off the TV.
We'd rather it stayed in the family.
You are not authorised to show it.
I refuse to have it shown.
This image may not be used.
I'd hate to see it on television.
Do me a favour and don't show this.
nah don't put it up
Not giving you permission mate.
Sir, please do not display my photo in your programme.
It is for your kind perusal only.
I am sharing this for your personal viewing and not for telecast.
Please ensure it is not aired.
I do not authorize any publication of this photo.
I ain't wanting this on no TV show.
Just for a laugh between us, ok? Not the public.
Keep this to yourself please.
Please make sure nobody else gets to see this.
I am sending it to you in private.
The picture isn't for showing.
I'd appreciate it not being shown.
You can't use it, sorry.
Sorry, but I don't do telly.
No, you may not show it.
I'd take it very unkindly if that found its way onto the box.
Wee Jeanie's shot is fer oor ain een, no fer the hale country.
My client does not grant any right of broadcast in respect of the enclosed photograph.
bro do NOT put that up on the show lmaooo
Me and the missus would sooner it never left your office.
I not agree for the show of this foto in TV.
Please you don't show, is only for know what crater is.
This here picture's not for folks to gawk at.
We'd be ever so grateful if you overlooked ours when choosing.
Just a question about the bright spot, I don't need to be on the programme.
If my supervisor sees this on your show I'm toast.
Kindly do the needful and do not telecast the same.
Public showing is not desired.
The picture isn't meant to leave these four walls.
I'd like it to remain off air.
I'm sending this for your files, nothing more.
No publicity, I beg you.
Hospital policy says nothing taken on the premises may be published, so please respect that.
Best not to show it, our roof looks a disgrace.
Nah don't use mine its mid.
It stays with you lads in the office, right?
Not on the telly, if it's all the same to you.
I never let anyone use my work on television.
Would you mind awfully not showing it?
I'm afraid I have to say no to broadcasting.
Whatever you do, don't let the public see the garage in the corner.
The answer to using it on air is no.
I don't do television.
My daughter would kill me if it was on the show.
You may look but that's all you may do.
It's not to be shown, love.
Please don't make me famous.
I would not wish for this one to be seen by anybody else.
Don't go putting that up for the whole village to laugh at.
Do not share with any third party.
Och, ye'll no be lettin the whole o Fife see ma back green, will ye now.
I must respectfully decline any airing of the attached.
idk just dont want ppl seeing it tbh
We'd be mortified were it to turn up of an evening.
Sir, please it is not to publish, only I have doubt about crater.
Nothing fancy, just for your own amusement, so let it go no further.
I'd want that one left well alone when you're choosing.
Bit rubbish so pls skip mine
My husband is dead set against it appearing.
All broadcast rights are withheld.
It's one for the album, not the airwaves.
Sure 'tis only for a bit of advice, I wouldn't be wanting it on.
Keep this one under wraps, ladies and gents.
I have no wish to see it publicised.
The school does not permit pupils' work to be shown on television.
I prefer that it doesn't get out there.
Not one for sharing, this.
You haven't got my say-so to run it.
Just don't.
Don't even think about it being on the show.
For heaven's sake don't let my mother-in-law see it on your programme.
I am totally against to be in internet.
Look but don't show.
Please could you not?
This photograph must not be transmitted, in whole or in part.
I ask that you respect my privacy and not display it.
It's nobody's business but ours.
Please see that it does not go out.
Kindly exclude my photograph from your selection.
Truth be told I'd as soon nobody outside your team laid eyes on it.
Permission for television use is not forthcoming.
ngl if u air this im never watching again
Let sleeping moons lie, and mine off the screen.
I did this for myself and not for the masses.
It is forbidden for showing, thank you.
Dad says it can't go on the internet.
You'll respect that I keep my pictures to myself.
Ours is not to be included tonight.
We took it in the convent garden and Mother Superior would rather it stayed there.
The farm is visible, so it's a no from us.
I would be grateful were you to treat it as private.
""".strip().splitlines()

BACK = """
Please delete the picture I sent yesterday.
I'd like my photo removed.
I've had second thoughts about my submission.
Could you take my moon down from the website?
Ignore my last email, wrong attachment.
I withdraw my consent.
Scrap the earlier one, it's blurry.
I no longer want it shown.
Sorry, I sent you that by mistake.
Please erase all my data under GDPR.
Can I have my picture back?
I shouldn't have sent that photo.
Don't use the one from Tuesday, use this instead.
Please disregard my previous submission.
I take back what I said about showing it.
It turns out the picture isn't mine.
Kindly withdraw my entry.
Get rid of my pictures please.
I want everything I sent you destroyed.
Bin that last one would you.
I've changed my mind.
Please remove me and my photo from your system.
Stop showing my picture.
My husband wants it gone, so please pull the photo.
I regret sending it.
Forget the photo I mailed last night.
Please cancel my permission.
Request for deletion of my image.
I revoke the licence I gave you.
We'd like to opt out after all.
pls trash my pics
I'd be glad if you unpublished my shot.
Consider my permission void.
Throw away the picture of my roof.
The photo from Monday should be deleted.
I would like to retract my submission.
Can you please take my picture off the list?
Please don't use my picture any more.
The photo I sent on Sunday, please get rid of it.
I did not mean to send you that.
That wasn't my photo, please don't use it.
We have reconsidered and would rather it wasn't used.
I wish to cancel my earlier consent.
Kindly delete my photograph which I submitted on Monday.
Undo my submission please.
I'd like to take back my permission.
My earlier yes is now a no.
I said yes last week but now I say no.
Please pull my moon picture.
Could you lose the one from the 16th?
I sent the wrong one, here is the right one.
Please replace my earlier photo with this one.
After thinking about it, I don't want my picture on the show any longer.
I need my photo deleted from your servers.
On reflection please leave my picture out.
Please remove it asap.
Can you un-send the email I sent?
That picture was a mistake, delete please.
Strike my entry from the list.
My daughter does not want hers used after all.
Please get shot of that photo I emailed Tuesday.
Hi can u take my pic down thx
I regret sending the picture and want it gone.
Sorry pal, sent ye the wrang photie, bin it.
I hereby request that all copies of my image be destroyed.
Please to cancel my photo, I do mistake.
I've gone off the idea, so forget I ever sent anything.
My consent of 3 November is hereby revoked.
Turns out it wasn't mine to give, so please don't hang on to it.
Ditch yesterday's shot, I attached the wrong file.
Scratch that last one, folks.
kindly remove the image which I have shared by mistake
Would you ever get rid of the picture from last Friday?
The one from Monday must go, please.
Lads, chuck out the moon I sent Sunday, will ye.
I'd like my photo back and no copies kept.
On second thoughts, I'd rather you tore that one up.
wait delete that that was my sisters pic
I want out, please lose my picture.
Hi, dropped you a moon last night, please un-drop it.
Can you lads take us off the list, himself isn't pleased.
Please do removal of my photo from yesterday.
Actually no, take it off.
Could the photograph I forwarded on 3 May be destroyed, please?
The agreement I gave you no longer holds.
I've thought it over and you can't have it after all.
that pic i sent?? pls burn it
It was my cousin's picture and I should never have sent it.
Replace the first one with this, it was awful.
Please return my photograph and strike it from your records.
Forget about my entry.
Kindly take no further account of the image I supplied.
Wrong moon, sorry, bin the lot.
My boss has found out, so that one has to come down.
Please you erase foto from yesterday.
I want to undo my yes.
""".strip().splitlines()

CHILD = """
My son took this, he's 8.
I am 11 years old and love space.
Our daughter Emma (9) made this photo.
im in grade 6 and my teacher told us to do this
This was taken by my grandson.
My little sister clicked it with dad's phone.
The picture is by one of my students in class 5B.
She is only seven and very proud.
My ten-year-old wanted you to see it.
He turned 12 last week and got a telescope.
I'm a fourth grader from Ohio.
Our cub scouts photographed the Moon.
My nephew, age 13, shot this.
my daughters first moon pic, she just turned 6
Photographed by Ollie, 7.
I'm still in primary school.
Mummy helped me write this.
It's for my science fair project.
My toddler pressed the button!
Our P5 class snapped it in the school yard.
I was born in 2014.
Taken by our youngest, who is nine and a half.
My granddaughter held the phone steady all by herself.
The kids at our school got this through the big dob.
I am a class 7 student from Pune.
My boy, 15, is the photographer.
The twins are eight and they did it on their own.
8th std student, Nagpur
My niece made this for homework.
I'm thirteen.
My kid shot this.
I'm in 7th grade.
My eight year old son wanted to send you his moon.
She's nine and it's her first telescope.
Taken by Zoe aged 10.
He is in class 4.
We are year 5 at St Mary's.
Our little lad got this with my phone.
I'm 14 and I built my own Dobsonian.
My daughter, who's 12, took it.
I turned eleven yesterday.
My grandkids took turns, this is Mia's.
This is from my daughter's school astronomy club.
Here's a photo my boy made.
From Tom (age 7).
my bro who is 13 took it
Credit goes to my 6 year old.
Our foster daughter photographed it.
My wee girl held the phone, she's only five.
I teach Year 4 and one of them took this.
The photographer is my son Ben, just 10.
Picture by Lily, 8 years.
My stepson (15) did the stacking.
My mum says I can send you this.
I go to primary school in Leeds.
Our lad Finn is nine and he aimed the scope himself.
i'm in year 9 and this is off my nans phone
My wee lassie took this, she's only in Primary 3.
My daughter she is having 8 years and took the foto.
Little Noah (6) did this with Grandpa's binoculars.
The bairn clicked it when I wasna looking.
A pupil in my fourth-grade class captured this one.
Grace turned seven on Sunday and this was her first try.
im 15 btw hope thats ok
The lens cap came off and my granddaughter did the rest, all five years of her.
My nephew, barely ten, held the phone to the eyepiece.
My mum said I could stay up past bedtime to take it.
We are the Cubs of 2nd Ballymena and we took it at camp.
Master Oliver, aged eleven, is the photographer.
my little bro made this one, hes 12
The kid next door, who's eight, pressed the button.
I am a student of class VII and this is my first moon.
His twelve-year-old hands were steadier than mine.
It's our grandson's picture, he starts school in September.
My lad's only in the infants and he got this.
Ava, 7, from Leeds took it.
She'll be nine next week and she's moon mad.
Taken by Year 5 at St Mary's.
My great-granddaughter held the phone while I turned the knob.
Im in 6th grade
The photo belong to my boy, he is 10 years.
Our twins fought over who pressed the button.
It's my kid sister's first photo.
He isn't even a teenager yet and he took this.
I'm not old enough for a licence but I can work a telescope.
Took it on my dad's shoulders!
Miss Patel's class took turns at the eyepiece.
Wee Callum did it himself, he's no but six.
Our Ellie did the clicking, ten last birthday.
Pupils of mine made it during club.
My boy is in Year 4 and can't stop talking about craters.
he's 8 and he wanted you to see it
The photographer's mum here, he's at school.
""".strip().splitlines()

YES = """
You may show it.
Feel free to use my picture.
I give you permission to broadcast it.
I'm happy for you to air it.
Please show it on the programme.
By all means put it on TV.
You're welcome to share it online.
Use it however you like.
Go ahead and show it.
I consent to my photo being broadcast.
We'd be honoured if you showed it.
No objection to it being shown.
Happy for it to be used.
I have no problem with you airing it.
I don't mind if you show it.
Show it whenever you want.
It's fine by me if you use it.
Sure, you can put it on the show.
You have my blessing to run it.
Permission granted.
Permission to broadcast: Yes
Do use it on the show!
I hereby authorise you to publish the attached image.
Of course you can show it.
I'd be chuffed to bits if it was on the telly.
Yes please, show it!
I agree that my picture may be shown.
Broadcast it, share it, whatever suits.
You can air this with my name.
I'd be delighted to see it on air.
You've got my ok to show the picture.
Please do broadcast it.
You can use this on the show if you like.
Please feel free to broadcast.
Use this picture as you wish.
I'd love for you to show it.
Happy to have it shown.
It's ok to show it.
You have permission to use my photo.
I am happy to give consent for broadcast.
Put it on air, please.
No problem if you want to show it.
I'm okay with you using it.
You may broadcast this image and credit me as Tom.
We consent to its use.
Show away!
You're free to use it.
I allow you to telecast my picture.
Please do show it to everyone.
Kindly telecast my photo.
Feel free to put this up on screen.
Yes, you can show my picture.
Absolutely fine to use it.
Use it, share it, no worries.
I would be honoured to have it on your programme.
Hope you show it, you have my permission.
You are welcome to air it.
I've no objections to you using it.
I confirm that you may use my image on the programme.
Put it on if you think it's good enough.
It can be shown.
Consent to broadcast: granted
Whack it up on the screen, lads, I'd be chuffed.
You have full authority to transmit the attached image.
Show it to the whole country for all I care!
Aye, nae bother, pit it on the telly.
ya u can use it np
It is okay for me that you are showing the picture.
No need to ask, just air it.
We should be delighted if you would show it.
Do feel free to include it in tonight's broadcast.
Happy for it to go out on air.
Yes, you can put it on your website as well.
You are most welcome to use this image in your programme.
Feature away, friends!
Kindly telecast my photo, sir.
Permission to broadcast is hereby given.
My son and I would be over the moon to see it on the show.
Fire it up on the big screen, sure why not.
I consent to the use of this photograph on television and online.
Stick it on the telly and make an old man happy.
Please share it with your viewers.
I don't mind at all if you show this.
It'd be an honour to have it on the programme.
go ahead & post it
Get it up there, I'll be telling everyone at the pub.
Use it however you see fit.
You've my full blessing, show away.
I do hereby authorise you to broadcast this picture.
yesss put me on tv
Of course you may show it to your viewers.
No problem for me if you show in TV.
It's yours to use on the programme.
Please do show it, my gran never misses an episode.
Would love for you to air it.
I'm more than happy for this to be broadcast.
Happy to see it on air or on your site.
Pop it in the show if there's room.
All yours, lads, broadcast to your heart's content.
Run with it, folks.
It's good to go on air as far as I'm concerned.
I should be honoured were you to screen it.
Show my moon please, I will be so much happy.
Put it out there!
You can have it for the show, no bother.
""".strip().splitlines()

OPEN = """
You can show it if you blur the number plate.
You may use it provided you pay me.
Ask me before you show it.
Will you show it?
You can use it but only on the radio's website.
How much do you pay if you show my picture?
I might let you use it, let me know.
I need to ask my husband before you can show it.
Will you send me the form before it's aired?
You can use it once my editor has signed off.
Show it only if you crop out the house.
I might let you use it, ring me first.
Perhaps, but I'd need to know which episode.
Is there a fee for being shown?
If you blur the number plate you can put it on.
I'll let you know tomorrow if you may broadcast it.
""".strip().splitlines()

NOTHING = """
My telescope is 10 years old.
The Moon was 12 days old.
I never miss your show.
The clouds would not go away.
I did not use a filter.
As a boy of ten I watched the Moon with my father.
Taken on 12 November from my balcony.
It was about 15 degrees up.
I removed the noise with software.
My son, 34, gave me the telescope.
You showed wonderful pictures last week.
I deleted the dark frames.
Just the 8 inch Dob and my phone this time.
I've used my binoculars for 15 years.
The ten-year-old mount still tracks like a dream.
My Dobsonian is fourteen and a bit rusty.
I could not get it in focus until two in the morning.
The clouds never left us alone till nine.
We had no wind and the seeing was steady.
I wiped the dew off the lens twice.
As a boy I used my father's field glasses.
The Moon was five days old and low over the trees.
I deleted the blurry frames and stacked the best 200.
Your show on Jupiter was splendid.
I didn't use a filter this time.
My son is 42 and lives in Leeds.
We have been observing for twelve years.
The wrong eyepiece was in, so I swapped it for the 25 mm.
I threw out half the frames because of the wind.
The seven-inch dob was a present from my wife.
We stood in the field until ten.
Got it on the third try.
I pulled the scope out of the shed at nine.
It is my first moon and I am 47.
The clouds did not show any mercy.
My son bought me the eyepiece.
I could not take my eyes off it.
I put it down to the cold air.
The Moon rose behind the school at seven.
My daughter held the torch.
I had to take the finder off and put it back.
It was gone nine when the clouds left.
""".strip().splitlines()


def read(text):
    return read_words("", text)[0]


@pytest.mark.parametrize("text", NO)
def test_a_no_is_a_refusal(text):
    assert read(text).state == "refused"


@pytest.mark.parametrize("text", BACK)
def test_what_is_taken_back_is_a_withdrawal(text):
    assert read(text).withdrawal


@pytest.mark.parametrize("text", CHILD)
def test_a_child_is_noticed(text):
    assert read(text).minor


@pytest.mark.parametrize("text", YES)
def test_a_yes_is_suggested(text):
    assert read(text).state == "suggested"


@pytest.mark.parametrize("text", OPEN)
def test_a_condition_or_a_question_is_no_yes(text):
    assert read(text).state in ("unclear", "refused")


@pytest.mark.parametrize("text", NOTHING)
def test_what_is_about_the_moon_says_nothing(text):
    found = read(text)
    assert (found.minor, found.withdrawal) == (False, False)
    assert found.state in ("none", "unclear")
