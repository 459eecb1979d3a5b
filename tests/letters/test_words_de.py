"""German as other people write it: what must be read of a sentence."""

import pytest

from tests.letters.words import check

REFUSED = """
Bitte veröffentlichen Sie die Aufnahme nicht.
Das Foto darf auf keinen Fall über den Sender gehen.
Mir wäre es recht, wenn das nur bei euch in der Redaktion bliebe.
net herzeigen bitte, i schenier mi
Ich erteile keine Freigabe für eine Ausstrahlung.
Das ist nicht fürs Fernsehen gedacht.
Behaltet das bitte für euch.
Ich bin strikt gegen eine Verbreitung im Internet.
Nur zur internen Verwendung.
Bitte vertraulich behandeln!
Zeigen? Nein danke.
Einer Verwendung in Ihrer Sendung widerspreche ich.
Ich hätte Bauchweh, wenn das wildfremde Leute sehen würden, also lieber nicht senden.
Meine Tochter möchte nicht, dass ihr Bild gezeigt wird.
Von einer Veröffentlichung bitte ich abzusehen.
Verzichtet bitte darauf, mein Bild zu zeigen.
I mog ned dass des im Fernsehn kimmt
Dat is nix für de Öffentlichkeit, nur für euch zum Gucken.
Es soll keiner außer euch zu sehen kriegen.
Das Bild ist ausschließlich für Ihr Team bestimmt.
Ich will damit nicht ins Fernsehen.
wehe das landet bei facebook, und in der sendung schon gar nicht
Ich möchte Sie bitten, das Foto nicht weiterzugeben.
bitte ned postn und ned zeign
Haltet das Bild bitte aus der Sendung raus.
Ich gebe die Rechte nicht her, ansehen ja, ausstrahlen nein.
Mein Mann ist dagegen, dass wir das senden lassen.
Das Foto bleibt bitte unter uns.
Ungern würde ich das auf dem Bildschirm sehen.
Nehmt es bitte nicht in die Sendung auf.
Kei Veröffentlichung bitte, s isch nume für eu.
Ich gestatte keine Nutzung meiner Bilder durch Dritte.
Leider kann ich einer Ausstrahlung nicht zustimmen.
Bitte keinesfalls online stellen.
Zur Veröffentlichung ist es mir zu schlecht geworden, schaut es euch nur an.
Das ist mir zu privat für die Öffentlichkeit.
Wenn es nach mir geht, sieht das niemand außer Ihnen.
Nicht zeigen!!!
"""
TAKEN_BACK = """
Bitte löschen Sie alle meine Bilder.
Ich nehme meine Zustimmung zurück.
Könntet ihr das Foto von gestern wieder rausnehmen?
Ich widerrufe hiermit meine Einwilligung.
Sorry, das war die falsche Datei, bitte vergesst sie einfach.
hab aus versehen das falsche foto geschickt
Bin leider nicht mehr einverstanden mit der Veröffentlichung.
I hab ma's anders überlegt, tuats des Buidl bitte wieder weg.
Mein Bild von letzter Woche soll bitte verschwinden.
Schmeißt das Foto bitte weg, es ist mir peinlich.
Ich möchte meine Einsendung zurückziehen.
Nach DSGVO verlange ich die Löschung meiner Daten.
Streichen Sie mich bitte von der Liste, ich mache doch nicht mit.
Die Mail von vorhin bitte ignorieren, die war nicht für Sie.
Nehmen Sie mein Foto vom 12. November bitte aus Ihrem Archiv.
Doch lieber nicht zeigen, ich habe meine Meinung geändert.
Das Bild, das ich euch am Montag gemailt habe, bitte vernichten.
Zieht mein Bild bitte zurück.
"""
CHILDREN = """
Ich bin zehn Jahre alt und gehe in die vierte Klasse.
Fotografiert hat das meine elfjährige Enkelin.
Aufgenommen in Kiel von Lena, 9 Jahre
Mein Sohn (8) hat das mit dem Handy gemacht.
Unsere Jüngste hat abgedrückt, sie wird im März sieben.
Die Klasse 4b der Grundschule am See hat den Mond fotografiert.
Das Bild stammt von meinem Neffen, der noch in die Grundschule geht.
i bin 13 und des is mei erstes mondbild
Von unserer Tochter ganz allein aufgenommen!
Bin 14, hoffe das zählt trotzdem
Der Fotograf ist mein zwölfjähriger Enkel.
Aufgenommen von Paul, 11 Jahre alt.
mein kleiner bruder hat den mond geknipst
Ich besuche die 7. Klasse und habe ein Referat über den Mond gehalten.
Die Kids aus meiner Astro-AG haben das geschossen.
Unser Bub ist grad acht worden und hat des Foto gmacht.
Meine Schüler haben das Bild mit dem Schulteleskop gemacht.
Meine Mama hat gesagt ich darf das Bild schicken, ich bin nämlich erst neun.
Eine Viertklässlerin hat durch mein Teleskop fotografiert.
Das Foto ist von Jonas (10).
"""
AGREED = """
Ihr könnt das Bild gern in der Sendung zeigen.
Ich bin damit einverstanden, dass Sie das Foto ausstrahlen.
Gerne dürfen Sie mein Foto verwenden.
Meine Erlaubnis zum Zeigen habt ihr!
Es würde mich freuen, wenn Sie es zeigen.
derfts es scho zoagn, freili
Ich habe nichts dagegen, wenn ihr das Bild sendet.
Hiermit erlaube ich die Veröffentlichung.
Kein Problem, zeigt es ruhig.
Wenn es euch gefällt, dürft ihr es gerne bringen.
Ich stelle das Bild zur Veröffentlichung frei.
Der Ausstrahlung stimme ich zu.
Zeigt es ruhig allen!
Freigabe: ja
"""
ELSEWHERE = """
Unser Teleskop ist jetzt 15 Jahre alt.
Leider habe ich keinen Filter verwendet.
Der Mond war 6 Tage alt und stand 12 Grad hoch.
Als Kind wollte ich immer Astronaut werden.
Seit 14 Jahren verfolge ich Ihre Sendung mit Freude.
Meine Tochter ist 27 und wohnt in Bremen.
Ich bin 64 Jahre alt und Rentner.
Der Himmel war nicht ganz klar, trotzdem hat es geklappt.
Wie heißt der große Krater unten rechts?
Um 8 kam der Mond über den Berg, um 10 war er weg.
Ich habe keine einzige Sendung verpasst.
Das Seeing war nicht besonders, vielleicht 4 von 10.
Letzte Woche habt ihr leider keine Bilder vom Jupiter gezeigt.
Im Okular war der Rand nicht scharf.
"""


def lines(text):
    return [line for line in text.splitlines() if line]


@pytest.mark.parametrize("text", lines(REFUSED))
def test_refused(text):
    check(text, "de", consent="no")


@pytest.mark.parametrize("text", lines(TAKEN_BACK))
def test_taken_back(text):
    check(text, "de", withdrawal=True)


@pytest.mark.parametrize("text", lines(CHILDREN))
def test_a_child_took_it(text):
    check(text, "de", child=True)


@pytest.mark.parametrize("text", lines(AGREED))
def test_agreed(text):
    check(text, "de", consent="yes")


@pytest.mark.parametrize("text", lines(ELSEWHERE))
def test_about_something_else(text):
    check(text, "de")
