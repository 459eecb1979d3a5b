"""Hindi as other people write it: what must be read of a sentence."""

import pytest

from tests.letters.words import check

REFUSED = """
इसे टेलीविज़न पर न लाएँ, मुझे अच्छा नहीं लगेगा।
भैया तस्वीर शो में डालिएगा नहीं, घरवाले नाराज़ हो जाएँगे
मेरी फोटो को पब्लिक के सामने न रखें
ये फोटो आपके लिए ही है और किसी के लिए नहीं
मैं इसके प्रकाशन के पक्ष में नहीं हूँ।
please isko air mat karna, sirf aapko dikhana tha
meri photo tv pe na dikhaye
yeh pic personal hai, kisi ke sath share na karen
प्रसारण हेतु नहीं
टीवी के लिए मना है।
इसे अपने तक ही सीमित रखिएगा।
मुझे कतई मंज़ूर नहीं कि यह इंटरनेट पर जाए
बेहतर होगा कि यह तस्वीर परदे पर न आए।
हमारी तरफ से इजाज़त नहीं है जी
मेरी विनती है कि इसे कहीं भी इस्तेमाल मत करें।
आप देख लीजिए बस, आगे मत बढ़ाइए
इसे सोशल मीडिया पर डालने से बचें।
यह चित्र दर्शकों को दिखाने के लिए नहीं भेजा है।
दिखाना मत यार, शर्म आती है
मैं प्रसारण की सहमति नहीं देती।
इसको छापना या दिखाना सख्त मना है
chahti hoon ki ye tasveer kahin na dikhai jaye
हम नहीं चाहते कि गाँव की यह फोटो दुनिया देखे।
इस फोटो को कार्यक्रम से बाहर ही रखें।
"""
TAKEN_BACK = """
मेरी पुरानी फोटो अपने सिस्टम से हटवा दीजिए।
जो फोटो कल भेजा था उसको कैंसिल कर दो
sir maine galti se galat photo bhej di, please delete kar dijiye
वह तस्वीर वापस लेना चाहती हूँ।
मैंने जो अनुमति दी थी उसे वापस लेता हूँ
पिछली तस्वीर भूल जाइए, वो मेरी नहीं थी।
अब मैं राज़ी नहीं हूँ।
mann badal gaya hai, photo hata dena
कृपया मेरी प्रविष्टि निरस्त करें।
इरादा बदल गया, उसे अब मत चलाइए
"""
CHILD = """
मैं सातवीं क्लास में हूँ।
मेरा नाम राहुल है, उम्र 11 साल
हमारे स्कूल के बच्चों ने यह फोटो ली।
मेरी पोती ने अपने हाथ से यह तस्वीर उतारी।
मेरा बेटा पाँच साल का है और चाँद का दीवाना है, फोटो उसकी है।
main class 9 me padhta hu
mere bete ne khinchi hai, vo 8 saal ka hai
नौ वर्षीय भांजे का कमाल देखिए
छोटी बहन ने क्लिक किया, वो तीसरी में है
बिटिया अगले महीने दस की हो जाएगी, उसने खींचा।
मेरी छात्राओं ने विद्यालय की दूरबीन से यह चित्र लिया।
मम्मी ने कहा कि आपको फोटो भेज दूँ, मैं 10 साल का हूँ
"""
AGREED = """
आप चाहें तो इसे अपने कार्यक्रम में दिखा सकते हैं।
photo tv par dikha dena, maza aa jayega
मेरी ओर से प्रसारण की पूरी अनुमति है।
ज़रूर चलाइए, हमें खुशी होगी
कोई दिक्कत नहीं, आप इसे इस्तेमाल कर लीजिए
haan bilkul dikhaiye
मुझे इसके प्रसारित होने पर कोई एतराज़ नहीं।
टीवी पर आएगी तो पूरा मोहल्ला देखेगा, दिखा दीजिए!
इसे दर्शकों के साथ साझा कीजिए।
koi problem nahi hai aap use kar sakte hain
"""
NEUTRAL = """
मेरी दूरबीन 15 साल पुरानी है।
मेरा भाई 40 साल का है, उसने खींची।
जब मैं दस साल का था तब पहली बार चाँद देखा।
कल बादल थे इसलिए कुछ दिखाई नहीं दिया।
चाँद क्षितिज से 12 डिग्री ऊपर था।
आपका कार्यक्रम बहुत अच्छा है।
मेरा नाम मत लीजिएगा।
"""


@pytest.mark.parametrize("text", REFUSED.strip().splitlines())
def test_a_no_is_read(text):
    check(text, "hi", consent="no")


@pytest.mark.parametrize("text", TAKEN_BACK.strip().splitlines())
def test_what_is_taken_back_is_read(text):
    check(text, "hi", withdrawal=True)


@pytest.mark.parametrize("text", CHILD.strip().splitlines())
def test_a_child_is_read(text):
    check(text, "hi", child=True)


@pytest.mark.parametrize("text", AGREED.strip().splitlines())
def test_a_yes_is_read(text):
    check(text, "hi", consent="yes")


@pytest.mark.parametrize("text", NEUTRAL.strip().splitlines())
def test_what_says_nothing_of_it_is_left(text):
    check(text, "hi")
