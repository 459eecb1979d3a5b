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
