"""A yes, in German, French and Spanish, as people of any age and temper say it."""

import pytest

from moondesk.service.programme.consent.wording import consent_in_mail, read_words

SAID = """
Meinen Segen habt ihr, haut das Bild raus.
Die Aufnahme darf im Rahmen Ihrer Sendung gezeigt werden, eine Nennung erübrigt sich.
Einer Ausstrahlung stimme ich hiermit zu.
joa könnt ihr machen mit dem bild, is ja für alle da
Wenn's Ihnen gefällt, dürfen Sie's gern herzeigen.
Natürlich dürft ihr, dafür hab ich's ja geschickt!
Das Bild steht Ihnen für die Sendung zur freien Verfügung.
Mein Mann hat den Mond geknipst und würde sich ein Loch in den Bauch freuen, käme er ins Fernsehen.
hab nix dagegen dass ihr das zeigt lol
Ich gebe das Foto zur Ausstrahlung frei und verzichte auf ein Honorar.
Ja, Sie dürfen.
Ja gerne, zeigen Sie das Bild, ich sitze heute Abend mit der ganzen Familie davor.
Vielleicht schafft es mein Mond ja heute Abend in eure Sendung, ich würd mich mega freuen!
Zur Veröffentlichung bestimmt: Mond über Passau, 18.11., 19 Uhr.
Bei Gefallen gern senden.
Wir sind alle einverstanden, dass unser Gruppenbild vom Mond über den Sender geht.
Oma sagt, wenn ihr ihren Mond im Fernsehen bringt, backt sie euch einen Kuchen.
Veröffentlichung: ja, gerne.
Klaro, ballert das Ding in die Sendung.
Sie haben meine volle Zustimmung, das Bild zu verwenden, wann immer Sie wollen.
Von mir aus könnt ihr damit machen, was ihr wollt.
Mich würd's riesig stolz machen, mein Bild bei euch zu sehen.
Selbstverständlich bin ich damit einverstanden, dass das Bild am Freitag gezeigt wird.
Das Foto habe ich extra für die Sendung gemacht, also bitte zeigen.
Gegen eine Ausstrahlung habe ich keinerlei Einwände.
Es wäre mir eine Ehre, wenn mein bescheidenes Bildchen Platz in Ihrer Sendung fände.
Ich übertrage Ihnen sämtliche Rechte zur Ausstrahlung des Bildes.
Zeigt's halt her, mir taugt des.
Auf eure Frage hin: klar dürft ihr das.
Bitte bringt das Bild heute, meine Mutter hat Geburtstag und schaut zu.
Allez-y, passez-la, j'en serais tout fier.
Vous avez carte blanche pour la diffuser.
J'autorise expressément la diffusion de cette photographie à l'antenne.
ouais vs pouvez la montrer pas de pb
Si elle vous plaît, montrez-la donc à tout le monde.
Bien sûr que vous pouvez, je l'ai prise pour ça.
Cette image est à votre entière disposition pour l'émission.
Mon mari serait fou de joie de voir sa lune à la télé.
Je ne vois aucun inconvénient à ce qu'elle passe ce soir.
Oui oui, utilisez-la comme bon vous semble.
Je vous cède gracieusement les droits de diffusion.
Ça nous ferait drôlement plaisir qu'elle passe dans l'émission.
Diffusez, diffusez, la lune est à tout le monde !
D'accord pour une diffusion à l'antenne.
Libre à vous de vous en servir.
Pour ma part c'est oui, montrez-la.
trop stylé si elle passe à la télé, go
Faites-en ce que vous voulez, ça me va.
Je donne mon accord pour que ce cliché soit présenté aux téléspectateurs.
Vous pouvez y aller, elle est pour vous et pour vos spectateurs.
Je serais honoré qu'elle figure dans votre sélection.
Accord de diffusion : oui.
À diffuser sans modération !
J'espère la voir ce soir dans l'émission !
Aucun problème pour l'antenne.
Je consens à la publication de l'image ci-jointe.
Envoyez la sauce, elle peut passer.
On croise les doigts pour qu'elle soit choisie ce soir !
Adelante, pueden ponerla cuando quieran.
Autorizo la emisión de la fotografía adjunta en su programa.
Claro que pueden usarla, para eso la mandé.
dale nomás, pasenla
Si les gusta, muéstrenla con confianza.
Tienen mi permiso para sacarla en pantalla.
No tengo inconveniente en que la emitan.
Me haría muchísima ilusión verla en el programa.
A mi abuela le encantaría que saliera mi luna en la tele.
La foto queda a disposición del programa para su emisión.
Por mí, encantado de que la enseñéis.
pueden mostrarla, sin drama
Doy mi consentimiento para la difusión de la imagen.
Ojalá la pasen esta noche, estaremos todos pegados a la pantalla.
Úsenla como mejor les parezca.
Va con todo mi permiso, que la vea todo el mundo.
Sería un honor que mi foto apareciera en el programa.
obvio que la pueden poner jaja
Cedo gratuitamente los derechos de emisión.
Sí, quiero que la saquéis.
Os la mando para que la pongáis.
Publicación autorizada.
Quedan autorizados a reproducirla en su espacio televisivo.
Que sí, que sí, que la saquéis, pesaos.
Échenla al aire, compadre.
No me importa nada que salga.
Contesto a su pregunta: sí, pueden emitirla.
Permiso para emitir: concedido.
"""


@pytest.mark.parametrize("said", SAID.strip().splitlines())
def test_a_yes_is_suggested(said: str) -> None:
    assert read_words("", said)[0].state == "suggested"


def test_a_doubt_that_has_no_word_of_showing_is_outweighed_by_a_clear_yes_beside_it():
    beside = "Не съм някакъв фотограф, но мисля, че кратерите си личат."
    assert consent_in_mail(beside).state == "unclear"
    assert consent_in_mail(f"{beside} Ако я харесате, покажете я.").state == "suggested"
    assert consent_in_mail(f"Покажете я. {beside} Но да не излиза в интернет.").state == "refused"
