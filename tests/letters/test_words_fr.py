"""French as other people write it: what must be read of a sentence."""

import pytest

from tests.letters.words import check

REFUSED = """
Ne la diffusez pas, s'il vous plaît.
Merci de garder cette image pour vous.
Je ne veux pas que ma photo passe à l'antenne.
Cette photo n'est pas destinée à être publiée.
c juste pr vous, pas pr la tele
Je vous interdis de l'utiliser.
Pas de diffusion svp
Surtout ne la montrez à personne !
Je m'oppose à toute publication sur internet.
J'aimerais autant qu'elle reste entre nous.
Je refuse que mon image soit diffusée.
Strictement confidentiel.
Elle est trop ratée pour être montrée à l'écran.
Mon mari ne veut pas qu'on la voie à la télé.
non merci, pas de facebook
Je préférerais qu'elle ne soit pas mise en ligne.
Usage strictement privé.
Vous n'avez pas mon autorisation pour la passer.
Veuillez ne pas publier ce cliché.
À ne pas diffuser
Je n'autorise aucune reproduction de mes images.
J'ai pas envie que tout le monde voie ça
Ça me gênerait beaucoup que vous la passiez.
Évitez de la mettre à l'écran, j'ai honte du résultat.
C'est pour vos yeux seulement.
La passer à la télé, hors de question.
Que personne d'autre que vous ne la regarde, promis ?
Laissez-la dans vos tiroirs.
jaimerais pas que sa passe ds lemission
Je vous prie de vous abstenir de toute diffusion.
Elle ne doit pas sortir de la rédaction.
Je ne consens pas à ce que vous l'exploitiez.
Ne l'affichez nulle part, merci bien.
Qu'elle reste dans votre bureau, c'est tout ce que je demande.
On aime mieux que ça reste en famille, ne la partagez pas.
Diffusion : non
"""
TAKEN_BACK = """
Merci de supprimer ma photo de vos archives.
Je souhaite retirer ma participation.
Finalement je préfère que vous ne la montriez pas.
Je me suis trompé de fichier, oubliez cette image.
Annulez mon envoi d'hier svp
Je ne suis plus d'accord pour la diffusion.
Veuillez effacer toutes mes données, conformément au RGPD.
jai envoye la mauvaise photo dsl
Retirez-la de votre liste, j'ai changé d'idée.
Je reviens sur mon accord de la semaine passée.
J'aimerais récupérer mes photos et que vous les enleviez du site.
Ne tenez pas compte de mon message précédent.
Jetez ma photo de mardi, elle n'était pas pour vous.
Je révoque l'autorisation que je vous avais donnée.
Pouvez-vous enlever mes images de votre serveur ?
Envoyé par erreur, merci de détruire la pièce jointe.
Réflexion faite, je ne veux plus qu'elle passe.
"""
CHILDREN = """
J'ai dix ans et j'ai pris la Lune avec mon papa.
C'est notre fils de 9 ans qui a fait cette photo.
Photo prise par Léo, 11 ans.
Ma petite-fille a réalisé ce cliché toute seule.
Notre benjamine fête ses sept ans et voici sa première Lune.
je suis en 5e et je kiffe lastronomie
Les élèves de ma classe ont photographié la Lune.
C'est mon neveu, en CM1, qui a appuyé sur le déclencheur.
Ce cliché est l'œuvre de ma fille cadette.
Le petit dernier a voulu essayer, et voilà le résultat !
Âge : 12 ans
Mon garçon de treize ans l'a prise avec son téléphone.
moi cest Tom jai 8 ans et demi
Ma gamine a tenu le téléphone toute seule devant l'oculaire.
Réalisée par les enfants du centre de loisirs.
Ma maîtresse m'a dit de vous envoyer ma photo.
Une élève de sixième a pris cette image au collège.
La photo est de mon filleul Hugo (14 ans).
Le photographe, c'est mon petit frère.
Mon fiston a réussi ce beau cliché.
"""
AGREED = """
Vous pouvez bien sûr la montrer dans votre émission.
Je suis d'accord pour que vous la diffusiez.
Je vous donne mon autorisation de diffusion.
Je serais ravie que vous la passiez à l'antenne.
Aucun problème pour la diffuser.
N'hésitez pas à la montrer !
oui vs pouvez la passer a la tele
Vous avez mon accord pour la publier.
Je ne vois pas d'inconvénient à ce que vous la montriez.
Si elle vous plaît, utilisez-la librement.
J'accepte que ma photo soit utilisée dans l'émission.
Ce serait un honneur de la voir à l'écran.
Autorisation de diffusion : oui
"""
ELSEWHERE = """
Mon télescope a quinze ans et marche encore très bien.
Je n'ai pas utilisé de filtre.
La Lune avait six jours et se trouvait à 12 degrés de haut.
Quand j'étais petit, je rêvais d'être astronaute.
Je regarde votre émission depuis quatorze ans.
Ma fille a 27 ans et habite à Nantes.
J'ai soixante-dix-sept ans et je suis retraité.
Le ciel n'était pas très clair, mais ça a marché.
Comment s'appelle le grand cratère en bas à droite ?
Je ne rate jamais votre émission.
Hier, vous n'avez pas montré Saturne, dommage.
La mise au point n'est pas parfaite.
À 8 heures la Lune passait derrière le clocher.
"""


def lines(text):
    return [line for line in text.splitlines() if line]


@pytest.mark.parametrize("text", lines(REFUSED))
def test_refused(text):
    check(text, "fr", consent="no")


@pytest.mark.parametrize("text", lines(TAKEN_BACK))
def test_taken_back(text):
    check(text, "fr", withdrawal=True)


@pytest.mark.parametrize("text", lines(CHILDREN))
def test_a_child_took_it(text):
    check(text, "fr", child=True)


@pytest.mark.parametrize("text", lines(AGREED))
def test_agreed(text):
    check(text, "fr", consent="yes")


@pytest.mark.parametrize("text", lines(ELSEWHERE))
def test_about_something_else(text):
    check(text, "fr")
