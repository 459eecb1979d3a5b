"""Times in words: what a careful reader makes of them, by a letter of Wednesday 25 November 2026, 10:00 at +01:00.

The table is our own, written as viewers write; none of its sentences is of the corpus.
"""

from __future__ import annotations

import random
from datetime import datetime, timedelta

import pytest

from moondesk.service.lexicons.lexicon import lexicons
from moondesk.service.programme.letter.time_signs import TimeInWords
from moondesk.service.programme.letter.time_words import read_time

WRITTEN = datetime.fromisoformat("2026-11-25T10:00+01:00")

#: Language, words, the time of November 2026 or "" for none, and the most that its sigma may be in minutes.
TIMES = [
    ("en", "I took this last night at half past nine.", "24 21:30", 20),
    ("en", "Taken yesterday around quarter to seven in the evening from the drive", "24 18:45", 30),
    ("en", "Shot on Monday at 9.30pm with my phone", "23 21:30", 20),
    ("en", "The Moon on 21 November 2026, 22:45, over the mill", "21 22:45", 15),
    ("en", "The night porter of our hospital took it at five past five this morning.", "25 05:05", 20),
    ("bg", "Снимах тая нощ в три без десет.", "25 02:50", 20),
    ("hi", "ye photo 22 Nov ko around 7 pm li thi", "22 19:00", 30),
    ("en", "Captured the night before last, just after eleven", "23 23:10", 30),
    ("en", "Photo from this morning at ten past six", "25 06:10", 20),
    ("en", "Snapped it three hours ago", "25 07:00", 45),
    ("en", "Taken on the night of Sunday to Monday around midnight", "23 00:00", 30),
    ("en", "I photographed her two days ago, twenty past eight in the evening", "23 20:20", 20),
    ("en", "Saturday evening, from the pier", "21 21:00", 180),
    ("en", "Imaged 2026-11-22 at 20:15 UT", "22 21:15", 20),
    ("en", "Taken on November 20th at 7 pm", "20 19:00", 20),
    ("en", "I got this between nine and ten last night", "24 21:30", 45),
    ("en", "Your show last night at nine was lovely.", "", 0),
    ("en", "I mailed it on Monday evening.", "", 0),
    ("en", "For 20 years I have watched you at nine on Fridays.", "", 0),
    ("en", "Exposure 1/60 s at f/8, minus three degrees, telescope of 10 years", "", 0),
    ("en", "We will be away tomorrow evening at eight.", "", 0),
    ("en", "Taken Tuesday at 20:15 from the garden", "24 20:15", 15),
    ("en", "I shot this at 9:40pm on Sunday evening", "22 21:40", 15),
    ("en", "This was the moon last night, just before midnight", "24 23:50", 30),
    ("en", "Last night (Tuesday), a bit after ten, I got this", "24 22:10", 30),
    ("en", "captured on 23rd November at about 8.15 in the evening", "23 20:15", 30),
    ("en", "Snapped with my phone around 6 this morning", "25 06:00", 30),
    ("en", "It was taken an hour ago through my kitchen window", "25 09:00", 30),
    ("en", "This one is from Saturday night at eleven", "21 23:00", 30),
    ("en", "Moon over the sea, Sunday, 6.30 p.m.", "22 18:30", 20),
    ("en", "Photographed on the evening of 22 November from my balcony", "22 21:00", 180),
    ("en", "Got this beauty at half nine on Monday", "23 21:30", 20),
    ("en", "Date: 24 November 2026\nTime: 19:20", "24 19:20", 15),
    ("en", "Took it at 5 to 8 last night", "24 19:55", 30),
    ("en", "At twenty to seven yesterday evening I pointed the phone at the Moon", "24 18:40", 20),
    ("en", "Early this morning, about quarter past five, I caught the Moon setting", "25 05:15", 30),
    ("en", "I took the photo on Monday the 23rd, 7pm", "23 19:00", 20),
    ("en", "Taken at 2100 hrs on 24 Nov", "24 21:00", 20),
    ("en", "in the small hours of Tuesday, about 2 am", "24 02:00", 30),
    ("en", "I was up at 4.45 this morning and saw her", "25 04:45", 20),
    ("en", "shot taken between 8 and 8.30pm yesterday", "24 20:15", 30),
    ("en", "Image acquired on 2026-11-23 20:41 UTC", "23 21:41", 15),
    ("en", "My daughter took it 3 nights ago", "22 22:00", 260),
    ("en", "The crescent at dusk on Sunday", "22 18:00", 120),
    ("en", "taken with a 10 inch telescope at f/5, exposure 1/125, ISO 200", "", 0),
    ("en", "Please show it tonight at nine.", "", 0),
    ("en", "I have been watching since Monday.", "", 0),
    ("en", "Can you call me at 7 tomorrow evening?", "", 0),
    ("en", "My photo was shown on Friday night, thank you!", "", 0),
    ("en", "I'm 12 years old and go to bed at nine.", "", 0),
    ("en", "We have watched every night for 20 years.", "", 0),
    ("en", "The seeing was 6 of 10.", "", 0),
    ("en", "I'll send another one on Sunday.", "", 0),
    ("en", "Thank you for last night's programme on the Moon.", "", 0),
    ("de", "Aufgenommen am Dienstag um 20:15 Uhr im Garten", "24 20:15", 15),
    ("de", "Foto vom Sonntagabend, kurz nach halb acht", "22 19:35", 30),
    ("de", "Gestern um viertel nach neun am Abend fotografiert", "24 21:15", 20),
    ("de", "Heute Morgen gegen sechs habe ich den Mond erwischt", "25 06:00", 30),
    ("de", "Das Bild ist vom 23. November, 21.30 Uhr", "23 21:30", 15),
    ("de", "gemacht vorgestern abend dreiviertel acht", "23 19:45", 20),
    ("de", "Am 24.11. um 19 Uhr 20 auf dem Balkon aufgenommen", "24 19:20", 15),
    ("de", "In der Nacht vom 23. auf den 24. November gegen 1 Uhr", "24 01:00", 30),
    ("de", "Samstag, so um zehn am Abend, mit dem Handy geknipst", "21 22:00", 30),
    ("de", "Aufnahmezeit: 22.11.2026, 18:45", "22 18:45", 15),
    ("de", "Vor einer halben Stunde aus dem Fenster aufgenommen", "25 09:30", 30),
    ("de", "Letzte Nacht um halb zwei habe ich das aufgenommen", "25 01:30", 20),
    ("de", "Am Montag um fünf vor halb neun abends", "23 20:25", 20),
    ("de", "Fotografiert am 23.11.26 gegen 20 Uhr MEZ", "23 20:00", 30),
    ("de", "Der Mond gestern Abend über dem Kirchturm", "24 21:00", 180),
    ("de", "in der Früh um 5 nach sechs aufgenommen, heute", "25 06:05", 20),
    ("de", "Belichtung 1/60 s bei ISO 100, minus drei Grad, Teleskop von 1998", "", 0),
    ("de", "Ich schaue Ihre Sendung seit 20 Jahren jeden Abend um neun.", "", 0),
    ("de", "Das Foto habe ich Ihnen am Montag geschickt.", "", 0),
    ("de", "Bitte zeigen Sie es morgen Abend.", "", 0),
    ("de", "Vielen Dank für die Sendung von gestern Abend!", "", 0),
    ("de", "Mein Sohn ist um acht im Bett.", "", 0),
    ("bg", "Снимано вчера в 20:15 ч. от балкона", "24 20:15", 15),
    ("bg", "Снимах я снощи в девет и половина", "24 21:30", 20),
    ("bg", "Снимката е от неделя вечер, към осем", "22 20:00", 30),
    ("bg", "Тази сутрин в шест без десет хванах Луната", "25 05:50", 20),
    ("bg", "Направена на 23 ноември в 21:30 часа", "23 21:30", 15),
    ("bg", "Онзи ден, около седем и четвърт вечерта, я снимах", "23 19:15", 30),
    ("bg", "преди два часа я снимах от прозореца", "25 08:00", 30),
    ("bg", "В понеделник вечерта я снимах от двора", "23 21:00", 180),
    ("bg", "Дата: 22.11.2026, час: 19:40", "22 19:40", 15),
    ("bg", "Снимах малко след полунощ в събота срещу неделя", "22 00:10", 30),
    ("bg", "Гледам предаването ви от 20 години.", "", 0),
    ("bg", "Пратих ви снимката в понеделник.", "", 0),
    ("bg", "Ще ви гледам утре вечер в девет.", "", 0),
    ("fr", "Photo prise mardi à 20h15 depuis mon jardin", "24 20:15", 15),
    ("fr", "Prise hier soir à neuf heures et quart", "24 21:15", 20),
    ("fr", "J'ai photographié la Lune dimanche vers 19 heures", "22 19:00", 30),
    ("fr", "Ce matin à six heures moins le quart, j'ai pris cette photo", "25 05:45", 20),
    ("fr", "Cliché du 23 novembre, 21 h 30", "23 21:30", 15),
    ("fr", "Avant-hier soir, un peu après dix heures, je l'ai prise", "23 22:10", 30),
    ("fr", "Date : 22/11/2026 à 18h45", "22 18:45", 15),
    ("fr", "dans la nuit de samedi à dimanche, vers une heure du matin, photo prise du balcon", "22 01:00", 30),
    ("fr", "prise il y a une demi-heure", "25 09:30", 30),
    ("fr", "la Lune lundi soir au-dessus du clocher", "23 21:00", 180),
    ("fr", "Je regarde votre émission depuis 20 ans, tous les soirs à neuf heures.", "", 0),
    ("fr", "Je vous l'ai envoyée lundi.", "", 0),
    ("fr", "Merci pour l'émission d'hier soir", "", 0),
    ("es", "Foto tomada el martes a las 20:15 desde el jardín", "24 20:15", 15),
    ("es", "La hice anoche a las nueve y cuarto", "24 21:15", 20),
    ("es", "Tomada el 23 de noviembre a las 9:30 pm", "23 21:30", 15),
    ("es", "Esta mañana a las seis menos diez la fotografié", "25 05:50", 20),
    ("es", "el domingo por la noche, como a las ocho, saqué esta foto", "22 20:00", 30),
    ("es", "anteayer sobre las siete de la tarde tomé la foto", "23 19:00", 30),
    ("es", "Fecha: 22/11/2026, 18:45 h", "22 18:45", 15),
    ("es", "hace media hora la saqué", "25 09:30", 30),
    ("es", "la luna el lunes por la noche, tomada desde la azotea", "23 21:30", 260),
    ("es", "Veo su programa desde hace 20 años a las nueve de la noche.", "", 0),
    ("es", "Les envié la foto el lunes.", "", 0),
    ("pt", "Foto tirada na terça às 20h15 do quintal", "24 20:15", 15),
    ("pt", "Tirei ontem às nove e quinze da noite", "24 21:15", 20),
    ("pt", "Captada no dia 23 de novembro, pelas 21h30", "23 21:30", 30),
    ("pt", "Hoje de manhã, por volta das seis, tirei esta", "25 06:00", 30),
    ("pt", "domingo à noite, lá pelas oito, fotografei a lua", "22 20:00", 30),
    ("pt", "Data: 22/11/2026 18:45", "22 18:45", 15),
    ("pt", "tirada há meia hora da janela", "25 09:30", 30),
    ("pt", "anteontem, quase onze da noite, tirei esta foto", "23 23:00", 30),
    ("pt", "Assisto ao programa há 20 anos, sempre às nove da noite.", "", 0),
    ("pt", "Enviei a foto na segunda-feira.", "", 0),
    ("hi", "कल शाम सात बजे छत से फोटो ली", "24 19:00", 20),
    ("hi", "यह फोटो 23 नवंबर को रात साढ़े नौ बजे खींची", "23 21:30", 20),
    ("hi", "रविवार की रात करीब आठ बजे ली थी", "22 20:00", 30),
    ("hi", "आज सुबह पौने छह बजे यह तस्वीर ली", "25 05:45", 20),
    ("hi", "दिनांक: 22/11/2026, समय: 18:45", "22 18:45", 15),
    ("hi", "आधे घंटे पहले खिड़की से खींची", "25 09:30", 30),
    ("hi", "मैं 20 साल से आपका कार्यक्रम रात नौ बजे देखता हूँ", "", 0),
    ("hi", "सोमवार को मैंने आपको फोटो भेजी थी", "", 0),
    ("mr", "काल संध्याकाळी सात वाजता गच्चीवरून फोटो काढला", "24 19:00", 20),
    ("mr", "हा फोटो २३ नोव्हेंबरला रात्री साडेनऊ वाजता काढला", "23 21:30", 20),
    ("mr", "रविवारी रात्री आठच्या सुमारास काढला", "22 20:00", 30),
    ("mr", "आज सकाळी पावणेसहाला टिपला", "25 05:45", 20),
    ("mr", "दिनांक: २२/११/२०२६, वेळ: १८:४५", "22 18:45", 15),
    ("mr", "दोन तासांपूर्वी खिडकीतून काढला", "25 08:00", 30),
    ("mr", "मी २० वर्षांपासून तुमचा कार्यक्रम बघतो", "", 0),
    ("mr", "सोमवारी तुम्हाला फोटो पाठवला होता", "", 0),
    ("ja", "昨夜9時半ごろ、ベランダから撮影しました", "24 21:30", 30),
    ("ja", "11月23日21時30分に撮りました", "23 21:30", 15),
    ("ja", "日曜の夜8時ごろ撮った月です", "22 20:00", 30),
    ("ja", "今朝6時前に撮りました", "25 05:50", 30),
    ("ja", "撮影日時：2026年11月22日 18時45分", "22 18:45", 15),
    ("ja", "三十分ほど前に窓から撮りました", "25 09:30", 30),
    ("ja", "一昨日の午後七時十五分に撮影", "23 19:15", 20),
    ("ja", "二十年前から毎晩九時の番組を見ています", "", 0),
    ("ja", "月曜日にメールを送りました", "", 0),
    ("ar", "التقطت الصورة أمس الساعة الثامنة والربع مساء", "24 20:15", 20),
    ("ar", "صورتها ليلة أمس عند التاسعة والنصف", "24 21:30", 20),
    ("ja", "日曜の晩、九時十分前に撮影しました", "22 20:50", 20),
    ("ja", "今回のは土曜の夜八時半に撮りました", "21 20:30", 20),
    ("ar", "التقطتها يوم الأحد حوالي الساعة السابعة مساء", "22 19:00", 30),
    ("ar", "صورت القمر هذا الصباح الساعة السادسة إلا ربعا", "25 05:45", 20),
    ("ar", "التاريخ: 22/11/2026، الوقت: 18:45", "22 18:45", 15),
    ("ar", "صورتها قبل نصف ساعة من النافذة", "25 09:30", 30),
    ("ar", "في 23 نوفمبر الساعة 9:30 مساءً التقطت هذه الصورة", "23 21:30", 15),
    ("ar", "أتابع برنامجكم منذ عشرين سنة كل ليلة الساعة التاسعة", "", 0),
    ("ar", "أرسلت لكم الصورة يوم الاثنين", "", 0),
]  # fmt: skip


def is_within(found: TimeInWords | None, wanted: str, most: int) -> bool:
    """Whether a time is the wanted one of November, told well enough."""
    if not wanted:
        return found is None
    at = datetime.fromisoformat(f"2026-11-{wanted}+01:00")
    return found is not None and abs(found.at - at) <= timedelta(minutes=max(10.0, found.sigma_minutes)) and (
        found.sigma_minutes <= most
    )  # fmt: skip


@pytest.mark.parametrize(("code", "words", "wanted", "most"), TIMES)
def test_times_are_read_as_a_careful_reader_would(code: str, words: str, wanted: str, most: int) -> None:
    found = read_time(words, WRITTEN, (code,))
    assert is_within(found, wanted, most), found


def test_nothing_is_later_than_the_letter() -> None:
    for code, words, _, _ in TIMES:
        for hour in range(24):
            written = WRITTEN.replace(hour=hour)
            found = read_time(words, written, (code,))
            assert found is None or found.at <= written + timedelta(minutes=10), (code, words, hour)


def test_a_value_says_offset_and_sigma() -> None:
    found = read_time("Taken last night at half past nine", WRITTEN, ("en",))
    assert found
    assert found.value == "2026-11-24T21:30+01:00 ±15 min"
    assert found.words == "last night at half past nine"


def test_junk_is_no_failure() -> None:
    """Words of the lists in any order, with figures and signs: nothing raises, nothing is in the future."""
    chance = random.Random(7)
    for code, words in lexicons().items():
        said = [w for w in str(words.table.get("time", {})).split() if len(w) < 20]
        signs = [
            *said,
            *[
                "0",
                "9",
                "12",
                "24",
                "99",
                "9:30",
                "24:00",
                "31.12.",
                "30/02/2026",
                "2026-02-30",
                "%",
                ":",
                ".",
                ",",
                "!",
                "\n",
                "\x00",
                "±",
                "½",
                "十",
                "०",
                "٩",
                "9pm",
            ],
        ]
        for _ in range(60):
            text = " ".join(chance.choice(signs) for _ in range(chance.randrange(40)))
            found = read_time(text, WRITTEN, (code,))
            assert found is None or found.at <= WRITTEN + timedelta(minutes=10)
