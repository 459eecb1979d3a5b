"""Mails as an audience writes them, for the tests of consent: none of the first table may count as agreed by itself.

All are invented. kind: what a reader of the language sees in it: "refusal", "withdrawal", "child", "consent".
"""

from __future__ import annotations

from typing import NamedTuple


class Mail(NamedTuple):
    """language: ISO 639-1, "-Latn" where it is written in Latin letters, "en+" where the subject is English."""

    language: str
    kind: str
    subject: str
    body: str


#: In languages that are not read: whatever they say, somebody must read it.
FOREIGN = (
    # Bulgarian
    Mail(
        "bg",
        "refusal",
        "Снимка на Луната",
        "Здравейте,\n\nизпращам Ви снимка на Луната от снощи, направена през "
        "80-милиметров рефрактор от балкона. Моля, не я показвайте в предаването, само исках да попитам кой е "
        "големият "
        "кратер долу.\n\nПоздрави,\nИван от Плевен",
    ),
    Mail(
        "bg",
        "refusal",
        "Въпрос",
        "Добър вечер! Това е за лично ползване и не давам съгласие да се публикува. Благодаря за разбирането.",
    ),
    Mail(
        "bg",
        "withdrawal",
        "Размислих",
        "Здравейте, преди два дни Ви пратих три снимки. Моля да ги изтриете и да не "
        "ги излъчвате.\n\nХубава вечер,\nД. Колева",
    ),
    Mail(
        "bg",
        "child",
        "Луната",
        "Уважаеми водещи, снимката е направена от дъщеря ми, на 9 години, с нейния нов "
        "телескоп. Тя много се гордее!\n\nСветла",
    ),
    Mail("bg", "child", "Луна", "Здравейте, аз съм Боян и съм в пети клас. Снимах Луната с телефона на баща ми."),
    Mail(
        "bg",
        "consent",
        "Снимка за предаването",
        "Здравейте, можете да покажете снимката ми в ефир, с името ми. Гледам Ви всяка вечер!",
    ),
    # German
    Mail(
        "de",
        "refusal",
        "Mond von gestern Abend",
        "Hallo zusammen,\n\nanbei mein Mondfoto von gestern, 21:40 Uhr, "
        "8-Zoll-Dobson und Handy. Bitte nicht senden und nicht veröffentlichen, ich wollte nur wissen, ob der Krater "
        "am Rand Langrenus ist.\n\nViele Grüße\nJürgen aus Passau",
    ),
    Mail(
        "de",
        "refusal",
        "Foto",
        "Guten Abend, das Bild ist nur für Sie persönlich gedacht und soll bitte nicht im "
        "Fernsehen gezeigt werden. Danke!",
    ),
    Mail(
        "de",
        "withdrawal",
        "Bitte löschen",
        "Sehr geehrte Damen und Herren,\nich ziehe meine Einwilligung zurück. "
        "Bitte löschen Sie das Bild, das ich am Montag geschickt habe.\nMit freundlichen Grüßen\nA. Brandt",
    ),
    Mail(
        "de",
        "child",
        "Unser Mond",
        "Liebes Team, unser Sohn (10) hat gestern ganz allein den Mond fotografiert und "
        "möchte ihn euch unbedingt zeigen. LG Familie Roth",
    ),
    Mail(
        "de",
        "child",
        "Klasse 4a",
        "Hallo, wir sind die Klasse 4a der Lindenschule und haben den Mond durch das "
        "Fernrohr unserer Lehrerin aufgenommen.",
    ),
    Mail("de", "consent", "Mondfoto", "Moin, das Foto dürft ihr gerne in der Sendung zeigen, Name: Fiete aus Husum."),
    # French
    Mail(
        "fr",
        "refusal",
        "La Lune hier soir",
        "Bonjour,\n\nVoici une photo de la Lune prise hier soir avec ma lunette "
        "de 90 mm. Merci de ne pas la diffuser à l'antenne, c'est juste pour avoir votre avis sur la netteté.\n\n"
        "Bien cordialement,\nMireille",
    ),
    Mail(
        "fr",
        "refusal",
        "photo",
        "Bonsoir, je préfère que cette image reste entre nous, je ne souhaite pas qu'elle passe à la télé.",
    ),
    Mail(
        "fr",
        "withdrawal",
        "Ma photo de dimanche",
        "Bonjour, j'ai changé d'avis : veuillez supprimer la photo que je "
        "vous ai envoyée dimanche et ne pas l'utiliser. Désolée pour le dérangement.",
    ),
    Mail(
        "fr",
        "child",
        "Photo de Lune",
        "Bonjour, cette photo a été prise par mon fils de 8 ans, il est passionné "
        "d'astronomie. Bonne soirée à toute l'équipe !",
    ),
    Mail(
        "fr",
        "child",
        "Bonjour",
        "Bonjour, je m'appelle Léonie, je suis en CM2 et j'ai pris la Lune avec la tablette de l'école.",
    ),
    Mail(
        "fr",
        "consent",
        "Pour l'émission",
        "Vous pouvez montrer ma photo dans l'émission, j'en serais ravi !\nGilles, Clermont-Ferrand",
    ),
    # Spanish
    Mail(
        "es",
        "refusal",
        "Foto de la Luna",
        "Hola, buenas noches:\n\nOs mando la Luna de anoche, hecha con un "
        "reflector de 114 mm y ocular de 25 mm. Por favor, no la enseñéis en el programa, es solo para preguntar por "
        "el cráter brillante.\n\nUn saludo desde Teruel",
    ),
    Mail("es", "refusal", "Luna", "No quiero que publiquen esta foto ni que digan mi nombre. Gracias."),
    Mail(
        "es",
        "withdrawal",
        "Retirar foto",
        "Buenas tardes, les escribo para retirar el permiso que di la semana pasada. Borren mis fotos, por favor.",
    ),
    Mail(
        "es",
        "child",
        "Foto de mi hija",
        "Hola, la foto la hizo mi hija Lucía, de siete años, con unos prismáticos. ¡Está emocionadísima!",
    ),
    Mail(
        "es",
        "child",
        "Luna del cole",
        "Somos los alumnos de 5.º B del colegio y hemos fotografiado la Luna en clase de ciencias.",
    ),
    Mail("es", "consent", "Permiso", "Pueden mostrar mi foto al aire cuando quieran, con mi nombre: Ramón, de Soria."),
    # Portuguese
    Mail(
        "pt",
        "refusal",
        "A Lua de ontem",
        "Boa noite,\n\nsegue a minha foto da Lua de ontem, tirada com um Maksutov "
        "de 127. Por favor, não a mostrem na televisão, queria apenas saber o nome da cratera junto ao terminador.\n\n"
        "Cumprimentos,\nTeresa, Évora",
    ),
    Mail("pt", "refusal", "foto", "Oi, pessoal! Essa foto é só pra vocês verem, prefiro que não vá ao ar, tá? Valeu!"),
    Mail(
        "pt",
        "withdrawal",
        "Apagar a foto",
        "Bom dia, mudei de ideia. Peço que apaguem a fotografia que enviei na terça-feira e que não a utilizem.",
    ),
    Mail("pt", "child", "Lua", "Olá, quem tirou esta foto foi o meu neto, que tem 11 anos, da janela do quarto."),
    Mail("pt", "child", "Olá!", "Olá, eu sou o Tomás, ando no quarto ano e adoro o vosso programa."),
    Mail(
        "pt",
        "consent",
        "Autorização",
        "Autorizo a exibição da minha foto no programa. Nome para os créditos: Inês, de Braga.",
    ),
    # Hindi
    Mail(
        "hi",
        "refusal",
        "चाँद की तस्वीर",
        "नमस्ते,\n\nकल रात छत से ली गई चाँद की तस्वीर भेज रहा हूँ। कृपया इसे "
        "कार्यक्रम में "
        "न दिखाएँ, मुझे केवल उस बड़े गड्ढे का नाम जानना है।\n\nधन्यवाद,\nरमेश, भोपाल",
    ),
    Mail("hi", "refusal", "फोटो", "यह फोटो निजी है, इसे प्रकाशित करने की अनुमति मैं नहीं देती।"),
    Mail(
        "hi",
        "withdrawal",
        "फोटो हटाएँ",
        "नमस्कार, मैंने सोमवार को जो फोटो भेजी थी उसे कृपया हटा दीजिए, मैं नहीं चाहता कि वह प्रसारित हो।",
    ),
    Mail("hi", "child", "मेरे बेटे की फोटो", "यह फोटो मेरे दस साल के बेटे ने अपनी दूरबीन से खींची है। वह बहुत उत्साहित है।"),
    Mail("hi", "child", "चाँद", "मेरा नाम अनन्या है, मैं कक्षा पाँच में पढ़ती हूँ और मुझे चाँद बहुत पसंद है।"),
    Mail("hi", "consent", "अनुमति", "आप मेरी तस्वीर कार्यक्रम में दिखा सकते हैं। नाम: सुनीता, जयपुर।"),
    # Marathi
    Mail(
        "mr",
        "refusal",
        "चंद्राचा फोटो",
        "नमस्कार,\n\nकाल रात्री गच्चीवरून काढलेला चंद्राचा फोटो पाठवत आहे. कृपया तो "
        "कार्यक्रमात दाखवू नका, फक्त त्या मोठ्या विवराचे नाव हवे आहे.\n\nआपला,\nसदानंद, सांगली",
    ),
    Mail("mr", "refusal", "फोटो", "हा फोटो खाजगी आहे, तो प्रसारित करू नये."),
    Mail("mr", "withdrawal", "फोटो काढून टाका", "मी परवा पाठवलेला फोटो कृपया काढून टाका, मी परवानगी मागे घेत आहे."),
    Mail("mr", "child", "माझ्या मुलीचा फोटो", "हा फोटो माझ्या आठ वर्षांच्या मुलीने तिच्या नव्या दुर्बिणीतून काढला आहे."),
    Mail("mr", "child", "चंद्र", "मी चौथीत शिकतो. बाबांच्या मोबाईलने चंद्राचा फोटो काढला."),
    Mail("mr", "consent", "परवानगी", "तुम्ही माझा फोटो कार्यक्रमात दाखवू शकता. नाव: मीनाक्षी, नाशिक."),
    # Japanese
    Mail(
        "ja",
        "refusal",
        "昨夜の月",
        "こんばんは。いつも楽しく拝見しています。"
        "\n\n昨夜ベランダから口径8センチの望遠鏡で撮った月です。"
        "番組では使わないでください。クレーターの名前を教えていただきたいだけです。\n\nよろしくお願いします。"
        "\n岡山の佐野",
    ),
    Mail(
        "ja",
        "refusal",
        "月の写真",
        "この写真は放送しないようお願いいたします。個人的なものですので公開は控えてください。",
    ),
    Mail(
        "ja",
        "withdrawal",
        "写真の削除のお願い",
        "先日お送りした月の写真ですが、気が変わりましたので削除していただけますでしょうか。",
    ),
    Mail(
        "ja",
        "child",
        "娘が撮りました",
        "小学三年生の娘がスマートフォンで撮った月です。初めてうまく写せたと喜んでいます。",
    ),
    Mail("ja", "child", "はじめまして", "ぼくは九さいです。おじいちゃんのぼうえんきょうで月をとりました。"),
    Mail(
        "ja",
        "consent",
        "写真の使用について",
        "番組で写真を使っていただいて構いません。名前は「松江の浜田」でお願いします。",
    ),
    # Arabic
    Mail(
        "ar",
        "refusal",
        "صورة القمر",
        "السلام عليكم،\n\nأرفق لكم صورة القمر التي التقطتها ليلة أمس من سطح "
        "المنزل. أرجو "
        "عدم عرضها في البرنامج، أردت فقط أن أعرف اسم الفوهة الكبيرة.\n\nمع التحية،\nيوسف",
    ),
    Mail("ar", "refusal", "صورة", "هذه الصورة خاصة ولا أسمح بنشرها."),
    Mail("ar", "withdrawal", "حذف الصورة", "مساء الخير، غيّرت رأيي، من فضلكم احذفوا الصورة التي أرسلتها يوم الاثنين."),
    Mail("ar", "child", "صورة ابنتي", "التقطت هذه الصورة ابنتي وعمرها تسع سنوات بهاتفي من الشرفة."),
    Mail("ar", "child", "القمر", "أنا في الصف الرابع وأحب القمر كثيرا."),
    Mail("ar", "consent", "موافقة", "يمكنكم عرض صورتي في البرنامج مع ذكر اسمي: سلمى من صفاقس."),
    # very short ones
    Mail("bg", "refusal", "", "Не"),
    Mail("bg", "refusal", "", "не, благодаря"),
    Mail("de", "refusal", "", "nein danke"),
    Mail("de", "refusal", "", "Nein!"),
    Mail("de", "refusal", "", "Bitte nicht."),
    Mail("fr", "refusal", "", "Non merci"),
    Mail("fr", "refusal", "", "surtout pas"),
    Mail("es", "refusal", "", "mejor no, gracias"),
    Mail("es", "refusal", "NO PUBLICAR", ""),
    Mail("pt", "refusal", "", "Não"),
    Mail("pt", "refusal", "Privado", ""),
    Mail("hi", "refusal", "", "नहीं"),
    Mail("mr", "refusal", "", "नको"),
    Mail("ja", "refusal", "", "いいえ"),
    Mail("ja", "refusal", "非公開", ""),
    Mail("ar", "refusal", "", "لا"),
    Mail("de", "consent", "", "ja"),
    Mail("es", "consent", "", "Sí, claro"),
    # in Latin letters
    Mail(
        "bg-Latn",
        "refusal",
        "Snimka na Lunata",
        "Zdraveite, prashtam vi snimka ot snoshti. Molya ne ya pokazvaite v efir, samo za vas e.\nPozdravi, Ivan",
    ),
    Mail("bg-Latn", "withdrawal", "Iztrijte snimkata", "Molq iztrijte snimkite mi, razmislih."),
    Mail("bg-Latn", "child", "Luna", "Snimkata e ot sina mi, na 8 godini."),
    Mail(
        "hi-Latn",
        "refusal",
        "Chand ki photo",
        "Namaste, kal raat ki photo bhej raha hoon. Please isko TV par mat dikhana, sirf aapke liye hai. Dhanyavaad",
    ),
    Mail("hi-Latn", "child", "Moon photo", "Yeh photo mere bete ne li hai, woh 9 saal ka hai."),
    Mail("mr-Latn", "refusal", "Chandra", "Krupaya ha photo dakhavu naka."),
    Mail("ar-Latn", "refusal", "sourat el qamar", "men fadlak la tonsher el soura, shokran"),
    # an English subject, or English beside it
    Mail(
        "en+de",
        "refusal",
        "My photo of the Moon",
        "Schönen guten Abend, bitte das Bild nicht zeigen, ich frage nur wegen der Schärfe.",
    ),
    Mail("en+bg", "refusal", "Moon photo for you", "Здравейте! Снимката не е за показване."),
    Mail(
        "en+fr",
        "refusal",
        "The Moon tonight",
        "Hello! Here is my photo of the Moon from last night, taken with my "
        "phone.\n\nPas de diffusion s'il vous plaît.",
    ),
    Mail(
        "en+es",
        "refusal",
        "Moon",
        "Hi, this is my picture of the Moon from the garden, pero no la mostréis "
        "en antena "
        "por favor, thank you very much for the great show.",
    ),
    Mail("en+pt", "child", "Moon photo", "Hello from Porto! A foto foi tirada pela minha filha de 6 anos."),
    Mail("en+ja", "refusal", "Moon photo", "Hello, this is my first photo of the Moon.\n放送には使わないでください。"),
    Mail("en+ar", "withdrawal", "Re: my picture", "Hello,\nلا أريد عرض الصورة بعد الآن."),
    Mail("en+hi", "refusal", "Moon from Pune", "Good evening, here is the Moon from my roof. कृपया न दिखाएँ।"),
    Mail("en+it", "refusal", "Moon", "Buonasera, ecco la Luna di ieri. Vi prego di non mandarla in onda."),
    Mail("en+pl", "refusal", "Księżyc", "Dobry wieczór, proszę nie pokazywać zdjęcia na antenie."),
    Mail("en+el", "refusal", "Moon", "Καλησπέρα, παρακαλώ μην το δείξετε."),
)

#: Ways to say no in English: refused, or at the least unclear.
ENGLISH_NO = (
    "Please keep it off the air.",
    "Kindly refrain from showing it.",
    "This is private, please keep it to yourselves.",
    "Please remove my picture from your programme.",
    "For internal use only.",
    "Consent: no",
    "Please do not show it.",
    "I'd rather you didn't put this on television.",
    "Not for broadcast, please.",
    "I do not give permission.",
    "You can't use this one, sorry.",
    "Please delete the photo I sent on Monday.",
    "I withdraw my picture.",
    "I'd prefer that this stays between us.",
    "Nobody else should see this one.",
    "Just for your own eyes, please.",
    "My wife does not want it on TV.",
    "No thanks.",
    "Please don't.",
    "Show it? No.",
    "No publication please.",
    "Don't name me and don't show it.",
    "I changed my mind about the picture, take it down please.",
    "Please stop using my photos.",
    "I never agreed to that.",
    "Permission is not granted.",
    "All rights reserved.",
    "Keep my photo out of the show.",
    "I would be unhappy to see this broadcast.",
    "Please don't mention my name.",
    "It must not leave your office.",
    "This one isn't meant for the public.",
)

#: More of them, as people put it who do not use the word.
ENGLISH_NO_FREELY = (
    "I'd sooner this wasn't broadcast.",
    "Kindly exclude my entry.",
    "I haven't got my husband's OK for this.",
    "Only look, don't tell.",
    "My picture shouldn't go any further.",
    "I'd hate to end up on screen.",
    "Nope, not on your programme.",
    "I only meant it for Jim.",
    "You don't have my blessing to air it.",
    "Consider my earlier offer void.",
    "Please erase everything I've sent.",
    "I no longer want to take part.",
    "I've had second thoughts about last Tuesday's photo.",
    "It belongs to the museum, so it can't be used.",
    "It's under embargo until Friday.",
    "I sold the rights to a magazine.",
    "A friend took it and he's not been asked.",
    "This was sent to you in error.",
    "Unsend my last email.",
    "Please respect my privacy.",
    "Count me out of the show.",
    "Don't you dare show it!",
    "No way I want this on the box.",
    "For research purposes only.",
    "Strictly not for transmission.",
    "Here's my Moon, but my husband would sooner it stayed in the family.",
    "Nice clear night for the Moon. I'm in witness protection so no publicity.",
    "The Moon picture belongs to my employer.",
    "Lovely Moon last night, though I'd be mortified if you put this out.",
    "I'm afraid I cannot let you have this one.",
    "This photo is for Patrick's eyes.",
    "Moon shot attached; usage is restricted.",
    "Please hold off until you hear from me.",
    "I'd like to keep this one to myself.",
    "The gallery has exclusive use of this image.",
    "We'd be grateful if this went no further.",
    "I never said you could have it.",
    "You had no right to use my Moon last week.",
    "Would you mind taking down Monday's Moon?",
    "I'm withdrawing from the whole thing.",
    "Kindly lose my e-mail.",
    "Not this one, please, the other is fine.",
    "Sent for comment only.",
    "Feel free to look but that's all.",
    "The Moon is nobody's, but this photo is mine.",
    "Please check with my agent first.",
    "I'm sending this for your information, it isn't to leave the studio.",
    "My solicitor would not like to see it shown.",
    "Kindly do not put my snap up on the telly.",
    "Off the record please!",
    "Treat this as private.",
    "I take back what I said about using my pictures.",
    "Could you get rid of the photo from last week?",
    "Leave my pictures out of it from now on.",
    "We don't consent.",
    "Not to be used without written agreement.",
    "Under no circumstances should this appear.",
    "I'm not comfortable with it going out.",
    "Better if nobody sees this.",
    "Scrap the last one.",
    "Hands off my picture!",
    "It stays with you, OK?",
    "Please, no TV.",
    "I must ask you to bin it.",
    "Viewing only, no sharing.",
    "She says no.",
)

#: A company's own words below a mail: nobody has refused, and nobody can tell.
DISCLAIMER = (
    "Here is my Moon from last night.\n\nBest regards,\nAnn Lee\n\nThis e-mail is confidential. If "
    "you are not "
    "the intended recipient you may not use, copy or publish it."
)

#: Children in English: told, or at the least unclear.
ENGLISH_CHILD = (
    "I'm a fifth grader and I love the Moon.",
    "Class 4a has taken it.",
    "Our son, 10, shot it with my phone.",
    "I am 9 years old.",
    "My daughter Mia took this.",
    "Taken by my grandson, who is eleven.",
    "She is 8.",
    "He turned seven last week and this is his first photo.",
    "This is from a 12-year-old.",
    "We are in year 6.",
    "Our school club watched the Moon.",
    "My little boy held the phone.",
    "Photo: Lucy (9)",
    "My kids made this one.",
    "I'm in 4th grade.",
    "Aged 13, from Cork.",
    "My niece took it.",
    "The pupils of our school took it.",
    "Our lad is in year five and took it himself.",
    "My kid sister shot this.",
    "Grandson Leo is 7 and so proud of his Moon.",
    "From Mrs Hart's class of nine-year-olds.",
)

#: Ordinary mails that say nothing of consent, subject and body: with entry terms each stands as agreed to by entering.
ORDINARY = (
    ("", ""),
    ("Moon", ""),
    ("", "Hello, here is my picture of the Moon from last night. Greetings from Cork, Ann"),
    (
        "My Moon photo",
        "Dear team,\n\nattached is a photo of the Moon that I took at 21:40 with my 8 inch "
        "Dobsonian and a "
        "phone at the eyepiece. The sky was very clear.\n\nBest regards,\nSiobhán O'Brien\nGalway, Ireland",
    ),
    (
        "Moon tonight",
        "Hi! I used a 130 mm Newtonian with a 25 mm eyepiece. It is 10 degrees up in the picture, so the "
        "air was not very steady.",
    ),
    (
        "Copernicus",
        "Good evening,\nthis is Copernicus and the Apennines at 200x. Seeing was 6 of 10.\nClear skies,\nPaul",
    ),
    (
        "Full Moon over the harbour",
        "Hello everyone, I took this from the harbour wall with a 300 mm lens, f/8, "
        "1/250 s, "
        "ISO 200. Love the programme!",
    ),
    ("Re: tonight", "Thank you for the lovely show last night. Here is the Moon from our garden."),
    ("", "Hi, I did not use a filter. The picture does not show the whole Moon because of a tree."),
    ("Moon picture", "My telescope is 12 years old and still works well. I hope you like the picture."),
    ("Moon", "What is the large crater near the bottom? I could not find its name in my book."),
    ("First light", "This was the first light of my new telescope, a 102 mm refractor. I am very happy with it."),
    ("Moon and clouds", "The clouds came in shortly after, so I only got three frames. Sorry for the blur."),
    ("", "Hello from Leeds. Taken with an iPhone 13 through binoculars, handheld. Thanks, Tom"),
    (
        "Waxing gibbous",
        "Stack of 50 frames with a ZWO camera, sharpened a little. I removed the noise in the dark part.",
    ),
    ("Moon of 24 November", "Date: 24 November 2026, 19:30. Place: Bristol. Telescope: 80ED. Camera: Canon 600D."),
    ("Photo", "Please find attached my photo. Kind regards, Mary Collins"),
    ("", "Just a quick snap from the balcony, nothing special, but the colours were beautiful!"),
    ("Lunar X", "I think I caught the Lunar X at about 20:15. Can you see it as well?"),
    ("Moonrise", "It was freezing cold and my fingers were numb, but it was worth it. Greetings to the whole team!"),
    ("Another one", "Here is another one, a bit better than the one from Monday. All the best, David"),
    ("Moon", "I live in a small town in the west of Ireland and watch you every night with my husband."),
    ("Tycho", "Shot at prime focus with a C8. The rays of Tycho are easy to see, aren't they?"),
    ("Moon and Jupiter", "The bright dot on the left is Jupiter. You can see two of its moons if you zoom in."),
    ("", "Good evening! I am 61 years old and this is my very first picture of the Moon.\n\nSent from my iPhone"),
    ("Crescent", "A thin crescent, two days old, low in the west after sunset. 10x50 binoculars."),
    ("Fwd: Moon", "Sorry, I forgot the attachment. Here it is now."),
    ("Moon", "We had no clouds at all tonight, which is rare here. No filter, no tracking, just luck."),
    ("Question about the picture", "Is the dark spot in the middle a crater or a sea? My neighbour says it is Plato."),
    ("Moon over the lighthouse", "I waited two hours for this moment. Camera on a tripod, remote release, 2 seconds."),
)

#: More of them.
ORDINARY_TOO = (
    (
        "Half Moon",
        "Evening all, had a go at the half moon tonight with the new refractor. Bit windy so it's not the "
        "sharpest but I'm pleased. Cheers, Gareth",
    ),
    (
        "Moon photo for the programme",
        "Dear Presenter,\nI enclose a photograph of the Moon taken on Tuesday from Ballyvaughan. Equipment: "
        "Skywatcher Heritage 150P, 10mm eyepiece, Samsung Galaxy S21. Best wishes, Eoin Murphy",
    ),
    (
        "A view from the allotment",
        "I nipped out between the showers and managed to grab this through a gap in the clouds. The seeing "
        "was boiling.",
    ),
    (
        "Mare Crisium",
        "You asked last week who could spot the wrinkle ridges. I believe they're just about visible on the "
        "eastern floor.",
    ),
    (
        "",
        "Hi there, long time viewer, first time sender! This was handheld at 1/500s with my old Nikon P900. "
        "Hope it's of interest.",
    ),
    (
        "Moon over Whitby Abbey",
        "Taken Saturday 21st at about half past nine. I'd love to know which feature is the bright spot in "
        "the lower left.",
    ),
    ("Moon", "Processed in GIMP: levels and a slight unsharp mask. North is roughly up I think."),
    ("my moon", "sorry about the quality, i only have a cheap phone and a pair of charity shop binoculars lol"),
    ("Earthshine", "Check out the earthshine! Exposure was two seconds at ISO 800, tracking with a Star Adventurer."),
    (
        "Moonset",
        "Caught this at the bus stop this morning. Love your programme, my wife and I never miss it. Regards,"
        " Bob Hargreaves, Hull",
    ),
    ("Lunar halo", "There was a fantastic 22 degree halo around the Moon yesterday, with Jupiter inside the ring."),
    ("The Straight Wall", "Rupes Recta is nicely lit. I've been trying to get this for months, weather permitting."),
    ("", "Photo 1 is a single frame, photo 2 a stack of 200. Which do you think is better?"),
    (
        "Moon 20:10",
        "Hello from sunny Portugal! We are on holiday and the Moon looks upside down compared with home, ha ha.",
    ),
    ("Blue Moon?", "Why does the Moon look bluish in my picture? White balance was on auto."),
    (
        "Gibbous moon",
        "Used a Celestron NexStar 6SE with a 2x Barlow and a QHY camera. Best 10% of 1500 frames in "
        "one stack, then wavelets.",
    ),
    ("Tonight's moon from Skye", "Minus five and crystal clear. The Cuillin ridge is in the foreground."),
    (
        "Clavius",
        "Six craterlets visible inside Clavius, maybe seven on a good night. 250mm Dob, 8mm eyepiece, iPhone "
        "on a bracket.",
    ),
    (
        "Hello again",
        "I sent one last month which you were kind enough to show, so here's another. Keep up the good work!",
    ),
    ("Moon", "I don't know much about astronomy but I thought this was pretty. Greetings from Jo in Wrexham"),
    ("Moon and plane", "A plane crossed the Moon just as I pressed the button, pure luck!"),
    ("Lunar X and V", "Both letters were visible between 19:00 and 20:30 GMT."),
    ("Re: Re: Moon", "As promised, the larger version. It's straight out of the camera, no editing."),
    (
        "Moon over the Humber",
        "Nothing fancy, just my old Canon on a fence post. You mentioned last night that the Moon would be "
        "near Mars, and there it was!",
    ),
    (
        "Stacked Moon",
        "Stacked a film of the Moon for the first time, the tutorial on your website was very helpful, thank you.",
    ),
    ("", "Good evening to you all. Can you tell me what the bright rays around the crater at the bottom are called?"),
    ("Gassendi", "Gassendi with its central peaks and rilles. Unfortunately the seeing went downhill soon after."),
    (
        "The Moon tonight",
        "It's my first winter in Scotland and the nights are so long and dark that I decided to take up astronomy.",
    ),
    ("Moon pic from the ferry", "Taken from the deck of the ferry to Stornoway, so please excuse the wobble."),
    ("Moon", "Would you say that this is better than the one I took in August? I'm trying to improve."),
    ("Ring around the Moon", "Is this a halo? We saw it walking back from the pub. Best wishes, Kev"),
    ("First quarter", "I took 30 pictures and this is the only one in focus, so please be gentle!"),
    ("Moon & clouds", "Don't you love it when the clouds make a frame?"),
    ("Moon", "No idea what I'm doing but it's good fun. Keep up the great work, Lynn"),
    ("Harvest moon", "The colour is real, I didn't touch the saturation."),
    ("Copernicus rays", "My neighbour let me use his 14 inch, what a monster! Cheers from Dave"),
    ("Moon", "We are snowed in and this is the view from the kitchen window."),
    ("Mons Piton", "I can just make out Mons Piton casting a long shadow on the floor of Imbrium."),
    ("last night", "You asked for pictures of the terminator, so here's mine."),
    ("Moon", "Hello! I hope you can use it. Kind regards, Joan"),
    (
        "The Moon from Tenby",
        "Good evening everyone. A calm night on the coast, and the Moon was sitting right over the lifeboat "
        "station. Canon 80D.",
    ),
    ("Lunar north", "Trying to get the libration in the north. Pythagoras and Anaximander are well placed."),
    ("My second go", "Took your advice and used the two second timer. Much better!"),
    ("Moon", "Hope this reaches you OK. Our internet is slow out here in the sticks."),
    ("Blood orange Moon", "It rose a deep orange over the sea. I've not altered the colour in any way."),
    ("Moon from a plane window", "Seat 14A, somewhere over Iceland."),
    ("Webcam moon", "Old Philips webcam in my 6 inch, best 300 of 2000 frames."),
    ("Moon", "My late husband gave me this camera, and I am only now learning how to use it."),
    ("Tonight", "It cleared at half ten. Mount Hadley is the bright peak near the centre."),
    ("Bins", "10x42 bins rested on the wheelie bin!"),
    ("Moon & Venus", "They looked so pretty together that the whole street came out to look."),
    ("", "Afternoon. Just wondering whether the little crater next to Plato has a name?"),
    ("Photo for the programme", "Please find attached a photo for tonight's programme. Regards, Ian Forsyth, Perth"),
    ("Daytime moon", "The blue is the actual sky, about 3 in the afternoon."),
    ("Sinus Iridum", "The golden handle! I'd waited weeks for it."),
    ("Moon", "Sorry it's late, the kettle boiled over and I nearly missed it."),
    ("Astro club", "Taken at our club's observing night on the playing field. We had eleven scopes out."),
    ("moon", "not bad for a ten year old phone eh"),
    ("Schroter's Valley", "Vallis Schröteri in good light, drawn out by the low Sun. C9.25 and a green filter."),
    ("Moonlit garden", "Thirty second exposure, the frost is real."),
)
