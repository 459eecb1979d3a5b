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
Die Verwertung meines Lichtbilds bleibt mir allein vorbehalten, eine Lizenz räume ich nicht ein.
Mei, des is bloß für eich zum Oschaun gwen, ned für d'Leit.
Ich bin kein Freund davon, meine Sachen im Fernsehen zu sehen.
So etwas hänge ich nicht an die große Glocke.
Für die Augen der Redaktion bestimmt, sonst für keine.
Wenn Sie es ausstrahlen, hören Sie von meinem Anwalt.
Mein Chef würde mir den Kopf abreißen, wenn er das im Fernsehen sähe.
Bitte nehmen Sie von einer Ausstrahlung Abstand.
Ich möchte anonym bleiben, und das Foto bitte auch im Studio lassen.
Das Ganze ist für den Papierkorb, auf keinen Bildschirm damit.
Auf den Schirm muss das wirklich nicht.
Für eine Sendung halte ich das Bild für ungeeignet.
Ich habe Bedenken, was die Veröffentlichung angeht, und sage deshalb ab.
Das Werk ist nicht zur Wiedergabe bestimmt.
Öffentlich mag ich das nicht haben.
Bild ist Schrott, bloß niemandem zeigen ;)
Ich nicht wollen, dass Foto kommt in Fernsehen.
Bitte keine Sendung mit mein Bild, danke schön.
An der Sendung möchte ich nicht teilnehmen.
Ich mach bei der Aktion nicht mit, wollte euch nur eine Freude machen.
Zur Kenntnisnahme, nicht zur Wiedergabe.
Meine Zustimmung bekommen Sie dafür nicht.
Dass mein Mondbild vor Millionen flimmert, muss nicht sein.
Verschont das Publikum bitte mit diesem Gewackel.
Das Foto ist exklusiv für den Kalender unserer Sparkasse, die erlaubt keine andere Verwendung.
Aus dienstlichen Gründen kommt eine Veröffentlichung für mich nicht in Betracht.
Ich bitt euch, tuts des ned ins Fernsehn eini.
Nur gucken, nicht senden.
Nichts davon verlässt bitte euer Büro.
Auf eine Präsentation vor Publikum lege ich keinen Wert.
Das Bild hat in der Öffentlichkeit nichts zu suchen.
Ich hätte es lieber, wenn es in der Schublade bliebe.
Könnt ihr gucken, aber raushauen lasst mal.
Es grenzte an Rufmord, zeigte man dieses verwackelte Etwas.
Mir san des z'privat, des bleibt unter uns.
Isch will net, dass des jeder sieht.
Dat blifft ünner uns, ne.
Meine Frau hat was dagegen, dass wir im Fernsehen vorkommen.
Eine öffentliche Zugänglichmachung ist ausgeschlossen.
Halten Sie das Bild bitte unter Verschluss.
Bitte sehen Sie davon ab, mein Foto vorzuführen.
Erspart mir bitte die Blamage, das vor ganz Deutschland zu zeigen.
Sie handeln gegen meinen Willen, wenn Sie die Fotografie publizieren.
Ich stelle klar, dass eine Nutzung über die Korrespondenz hinaus nicht vereinbart ist.
bruh postet das bloß nirgends
Wenn's geht, net im Fernsehn, gell?
Ach Gott nein, ins Fernsehen doch nicht, was sollen denn die Nachbarn denken!
Das zeigt bitte nicht her, unser Hof ist darauf zu erkennen.
Nur für Sie persönlich, als kleiner Dank für Ihre Arbeit.
Ich nix wollen Fernsehen, nur grüßen.
Mein Bild hat im Netz keinen Platz.
Als Beamter darf ich so etwas nicht öffentlich machen.
Behandeln Sie die Datei bitte wie einen Brief unter Freunden.
Es ist mir unangenehm, so etwas vorgeführt zu sehen.
Die Aufnahme soll im kleinen Kreis bleiben.
Für'n Fernseher is dat nix, ehrlich.
Ich möchte davon Abstand nehmen, das Bild zu veröffentlichen.
Bitte nur anschauen und dann weglegen.
Ein Abdruck oder eine Sendung bedarf meiner Erlaubnis, die ich nicht erteile.
Den Nachbarn gönn ich das nicht, also lasst es aus dem Programm.
Wird das gesendet, bin ich stinksauer.
I wui ned, dass mei Buidl im Kastl auftaucht.
Das Foto dient allein der Klärung meiner Frage.
Mir wär's arg, wenn das über den Bildschirm liefe.
Uf kein Fall uusstrahle bitte!
Ich verwahre mich gegen jede Form der Bekanntgabe.
Schön wär's, wenn das niemand außer Ihnen mitbekäme.
Zeig's bloß keinem, sonst lacht die ganze Kompanie.
Wir als Schule geben das Bild nicht zur Ausstrahlung frei.
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
Tun Sie mein Bild bitte wieder aus dem Topf.
Ich ziehe die Aufnahme zurück, mein Verein will sie selbst drucken.
ey sry falsches pic, nicht beachten
Schmeißt den Schinken in die Tonne, ich schick ein besseres.
Die mit Schreiben vom 3. November erteilte Zustimmung ist hiermit widerrufen.
Ich mach einen Rückzieher, was mein Foto betrifft.
Mir is's lieber, ihr haut's des wieder aussi.
Mein Neffe hat ohne mein Wissen von meinem Konto geschickt, bitte alles entsorgen.
Verwerfen Sie bitte meine gestrige Einsendung.
Ich steige aus der Aktion aus.
Kann man das Bild noch stoppen? Ich will doch nicht.
Das gestern Gesendete ist bitte hinfällig.
Das Bild ist gar nicht von mir, das hatte ich verwechselt, bitte raus damit.
Leute, Kommando zurück mit dem Mondbild!
Ich verlange, dass meine Daten samt Bildern ausgetragen und vernichtet werden.
Bitte meine Mail als nicht geschrieben ansehen.
Ich habe mich in der Datei geirrt, nehmt die erste bitte nicht.
Meine Teilnahme möchte ich hiermit absagen.
Das Einverständnis von letzter Woche gilt ab heute nicht mehr.
Bitte um Entfernung des Bildes Nr. 4.
Hallo, bin leider im Anhang verrutscht, vergesst das Bild.
Ich hab's mir überlegt: nehmt's wieder raus.
Mein Einverständnis ist erloschen.
Das Foto bitte nicht mehr verwenden, ich habe es mir anders überlegt.
Machen Sie meine Anmeldung bitte rückgängig.
Bild kann weg.
Meine Frau hat mich überredet, das Ganze wieder abzublasen.
Bitte sämtliche Kopien meiner Aufnahme vernichten.
löscht ma des bitte, danke
Ich distanziere mich von meiner Zusage.
Das war nur ein Test, bitte wieder löschen.
Ich bitte um umgehende Löschung.
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
Unser Sechstklässler hat das ganz allein hingekriegt.
ich (13) hab das mit papas handy gemacht
Bin noch Schülerin und hab's vom Balkon aus geknipst.
Das hat die Kleine von nebenan fotografiert, die kommt nächstes Jahr erst in die Schule.
Ich werd im Januar elf und will Astronautin werden.
Der Bub is grad amal siebn und hod scho so a Auge.
Unsere Jüngste durfte den Auslöser drücken.
Den Mond hat der Filius eingefangen, noch keine zehn Jahre alt.
Jakob, Klasse 5b, Gesamtschule Nord.
Meine Zwillinge, beide acht, haben sich am Okular abgewechselt und dieses Bild gemacht.
Das Foto entstand im Sachunterricht der 4a.
Urheberin ist meine minderjährige Tochter.
Mit meinen elf Jahren bin ich der Jüngste in der Sternwarte.
Ich hab morgen ne Klassenarbeit, deshalb nur kurz: hier mein Mondfoto.
Enkelchen Lotta, fünfeinhalb, hat den Knopf gedrückt.
Die Nele, dat is unsere Lütte, het dat Foto makt.
Geburtsjahr 2014, Hobby Astronomie, das bin ich.
Mein Bruder ist neun und hat das durch Opas Fernrohr aufgenommen.
Die Buben haben das Foto geschossen, während ich den Tee kochte.
Fotograf: Emil, 1. Klasse.
Das haben die Kinder aus meiner Pfadfindergruppe gemacht.
Emma wird bald zehn und hat das Bild aufgenommen.
Ich besuche die siebte Klasse eines Gymnasiums in Fulda.
Mein Papa hat mir das Teleskop eingestellt, aber abgedrückt habe ich.
Der Junge von gegenüber, er ist zehn, hat durchs Okular fotografiert.
Ich bin in der 6c und mein Hobby ist der Mond.
Meiner Enkelin, sieben, ist dieses Bild gelungen.
Unser Kleiner hat zum ersten Mal selbst abgedrückt, mit fünf!
Mia (11 Jahre) sendet Ihnen ihr Mondfoto.
hab ich mit 14 zum geburtstag n teleskop gekriegt, gestern, und gleich das hier geschossen
Die Aufnahme stammt von Schülern der Klasse 8a.
Unsere Kindergartengruppe hat den Mond fotografiert.
Das Patenkind durfte auch mal, und siehe da, es wurde das beste Bild.
I bin da Xaver, i bin neine und hob des Buidl gmacht.
Wir haben in Astro-AG der Schule dieses Bild gemacht.
Mein kleiner Bruder war's, der ist im Mai sechs geworden.
Autorin des Bildes: Hannah, Jahrgang 2013.
Meine Tochter wollte unbedingt, dass Sie ihr Foto bekommen, sie ist acht.
Das is vom Mäxle, der kommt im Herbst in d'Schul.
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
Rein damit in die Sendung!
Für mich geht das in Ordnung, wenn ihr es bringt.
Ich räume Ihnen das einfache Nutzungsrecht zur Ausstrahlung ein.
jo könnt ihr safe bringen
Zeigen Sie es ruhig, ich bin ja alt genug, um mich nicht mehr zu schämen.
Hiermit stimme ich der Veröffentlichung meines Fotos zu.
Ihr derfts des gern herzoagn.
Sie dürfen mein Bild nutzen, in der Sendung wie im Netz.
Von mir aus kann das die ganze Republik sehen.
Ich würd mich narrisch gfrein, wanns im Fernsehn kimmt.
Es wäre mir eine große Freude, mein Foto bei Ihnen zu entdecken.
Einer Ausstrahlung steht meinerseits nichts im Wege.
Mein Segen habt ihr, sendet es.
Ich geben Erlaubnis für zeigen in Fernsehen.
Verwendet es, wie ihr lustig seid.
Bitte sehr, zur freien Verwendung in Ihrer Sendung.
Ich wäre stolz wie Oskar, wenn ihr es zeigt.
Die Ausstrahlung ist gestattet, ein Honorar wird nicht verlangt.
Immer her mit dem Sendeplatz, zeigt es allen!
Ab damit in die Sendung, der ganze Stammtisch schaut zu.
Tut es ruhig ins Programm.
Sendefreigabe erteilt.
Freigabe für TV und Internet: ja.
Darf gezeigt werden.
Gerne auch auf Ihrer Webseite.
Ich hätte nichts dagegen, mich im Fernsehen wiederzufinden.
Das Bild darf in jeder Form verwendet werden.
Macht damit, was ihr wollt, Hauptsache es läuft.
Selbstverständlich dürfen Sie die Aufnahme ausstrahlen.
Jo freili derft's des zoagn!
Ich erkläre mich mit der Ausstrahlung einverstanden.
ihr habt mein go, ab auf den bildschirm
Bitte zeigen, meine Enkel sitzen vorm Fernseher!
Sie können es ohne weitere Rückfrage bringen.
Nehmt's ruhig fürs Fernsehen, i gfrei mi.
Meine Erlaubnis zum Senden haben Sie.
Wenn es Ihnen gut genug ist, zeigen Sie es bitte.
Es würde mich ehren, wenn Sie mein Bild auswählten.
Gegen eine Veröffentlichung habe ich keinerlei Einwände.
Schickt den Mond über den Äther!
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
Meine Frau wollte nicht mit raus, ihr war es zu kalt.
Ich unterrichte an einer Grundschule, aber das Bild ist von mir.
Der Nebel ließ keinen Blick zu.
Eure Sendung verpasse ich nie.
Gestern war nichts zu sehen, heute dafür umso mehr.
Nicht lachen, das Stativ ist ein alter Besenstiel.
Das Bild zeigt das Meer der Ruhe kurz nach Sonnenaufgang.
Ich habe den Mond noch nie so hell gesehen.
Der Kater musste auch unbedingt aufs Dach.
Seit acht Jahren habe ich dieses Teleskop.
Zum Glück hat der Wind nachgelassen.
Warum zeigt der Mond immer dieselbe Seite?
Ich war nicht sicher, ob das Bild scharf genug ist.
Mein Sohn Peter, 42, hat mir die Montierung repariert.
Ohne Brille sehe ich den Terminator gar nicht.
Der Akku war leer, deshalb nur ein Versuch.
Leider kein Filter, dafür viel Geduld.
Das war nach drei Wochen Regen die erste klare Nacht.
Meine Nachbarn halten mich für verrückt.
Ist das rechts unten der Krater Tycho?
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
