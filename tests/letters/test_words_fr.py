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
Je réserve l'exclusivité de ce cliché à une revue, il ne saurait être diffusé chez vous.
wesh jveux pas finir en story ni à la télé avec ça
Ben là, mettez pas ça à TV, j'serais ben gêné.
Cette photo n'a rien à faire à la télévision.
Je décline toute exploitation publique de mon image.
C'est rien que pour toi, ma belle, pas pour toute la France.
Qu'on ne s'avise pas de l'exposer aux regards.
À usage interne de la rédaction.
Que cela reste entre ces murs, je vous prie.
Mon employeur me l'interdit, donc pas de passage à l'antenne.
Je m'oppose formellement à toute reproduction.
L'idée de la voir à l'écran me met mal à l'aise.
Moi pas vouloir photo à la télé.
Elle est trop ratée pour que vous en fassiez quoi que ce soit en public.
Merci de la garder dans vos tiroirs.
Je préfère qu'elle dorme dans vos archives.
Gardez ça sous le manteau, hein.
Évitez-moi la honte de la voir à la télé.
Aucune cession de droits n'est consentie par la présente.
Je ne suis pas chaud pour que ça passe à la télé.
Ma femme n'est pas d'accord pour qu'on la montre.
Pas de ça à l'écran, s'il vous plaît.
Je ne participe pas, c'était juste pour vous faire plaisir.
Que personne d'autre que vous ne la voie.
Ne l'ébruitez pas, c'est pour vos yeux seulement.
Je n'ai pas les droits, donc vous non plus.
La photo n'est pas destinée au public.
Regardez-la, régalez-vous, puis rangez-la loin des caméras.
Si jamais ça passe à l'écran, je vous colle un procès.
Hors de question que mes voisins tombent dessus à la télé.
Pas libre de droits, cliché vendu à une agence.
Je tiens à ce que cette image demeure dans le cercle familial.
Vous n'avez pas mon feu vert.
Ça m'ennuierait fort qu'elle circule.
C'est niet pour la diffusion.
J'aime autant que vous la laissiez de côté.
Épargnez-la aux téléspectateurs, par pitié.
Je refuse que ça sorte d'ici.
On la regarde entre copains et basta, rien d'autre.
Je ne donne suite à aucune demande de publication.
La diffusion de cette œuvre n'est consentie à quelque titre que ce soit.
frr montre ça à personne stp
Pas de télé pour moi, je suis trop timide.
Ah non, pas devant tout le village !
Ma photo n'est pas à vendre ni à montrer.
C'est un petit cadeau personnel pour l'animatrice.
Chu pas à l'aise que ça passe aux nouvelles.
Moi je veux pas télé, seulement dire bonjour.
Mon image n'a pas sa place sur internet.
Étant fonctionnaire, je ne peux autoriser aucune publication.
Traitez cet envoi comme une lettre entre amis.
Il me serait pénible de la voir étalée sur un écran.
Que ceci reste dans un cercle étroit.
Pour la télé, c'est non, franchement.
Le feu des projecteurs, très peu pour moi ; jetez-y un œil et voilà.
Je souhaite que l'on s'abstienne de la publier.
À regarder, pas à diffuser.
Je ne voudrais surtout pas qu'elle fasse le tour du web.
Passez la photo et vous aurez affaire à mon avocat.
Jamais de la vie à la télé, même pas en rêve.
Ce cliché sert uniquement à illustrer ma question.
Ça me ferait mal au cœur de la voir traîner partout.
La famille s'y oppose.
On garde ça pour nous, d'accord ?
Il n'y a que vous qui devez la voir.
La mettez pas en ligne, pitié.
Je vous demanderais de vous abstenir.
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
Je me retire du jeu, ôtez ma photo.
En fait c'est pas la bonne photo, laissez tomber.
Veuillez considérer mon courriel d'hier comme nul.
Jetez tout, je recommence demain.
J'ai cliqué trop vite, cette image n'aurait pas dû partir.
Le consentement donné le 3 novembre est révoqué ce jour.
Mettez ça au panier, s'il vous plaît.
Je fais machine arrière pour la photo.
La photo n'est pas à moi, c'est celle de mon gendre, donc enlevez-la vite.
annulez tout svp jme suis trompée de fichier
Tirez-moi ça de vos dossiers, j'veux pus rien savoir.
Je souhaite que toute trace de mon envoi disparaisse.
Ma participation est annulée.
Pourriez-vous retirer la vue que j'ai postée dimanche ?
J'ai changé mon fusil d'épaule, ne la prenez plus.
Moi demander effacer photo merci.
Ne tenez pas compte de la photo jointe.
Je regrette de vous l'avoir envoyée, effacez-la.
Conformément à l'article 17 du RGPD, j'exige l'effacement de mes données.
C'était une boulette, cette photo, oubliez.
Je me suis emmêlé les pinceaux, cette photo n'est pas la bonne.
Mon autorisation n'a plus cours.
Veuillez retirer mon cliché de votre sélection.
Vous pouvez mettre ma photo à la corbeille.
Ma femme m'a convaincu de tout annuler.
Détruisez toutes les copies de mon image.
efface stp merci
Ce n'était qu'un essai, supprimez-le.
Je reviens sur ma parole au sujet de la photo.
Ne la diffusez plus, j'ai réfléchi.
Envoi fait par erreur, veuillez ne pas en tenir compte.
Merci d'oublier ma photo de mardi.
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
Notre petit dernier, huit ans depuis hier, a appuyé sur le bouton.
j'ai 13 ans et c'est ma première photo de lune
Ma fille est en CM2 et elle a tout réglé toute seule.
Photo prise par les élèves de l'école Jules-Ferry.
Je suis au collège et je fais de l'astro le week-end.
Mon petiot a déclenché pendant que je tenais la lampe.
L'auteur est mineur, je signe pour lui.
Théo, 4 ans et demi, a visé la Lune tout seul.
C'est ma puce qui l'a faite, elle entre au CP l'an prochain.
J'aurai douze ans en mars et je veux être astronaute.
La gamine des voisins l'a prise avec mon téléphone.
Année de naissance de l'auteur : 2015.
Demain j'ai contrôle de maths mais la Lune était trop belle.
Mes élèves de sixième ont réalisé cette image au club du collège.
Elle n'a que dix ans et déjà l'œil d'une pro.
Le cliché est de mon petit-fils Léo, qui fêtera ses sept ans.
Papa m'a prêté son télescope et j'ai fait la photo avant d'aller au lit.
Ma nièce, en troisième au lycée français, signe ce cliché.
Mon frère a huit ans et il a fait la photo.
Mon fils (9) a pris cette photo.
Le garçon d'en face, il a dix ans, l'a prise à travers l'oculaire.
Je suis en 6e B et j'adore la Lune.
Ma petite-fille, sept ans, a réussi ce cliché.
Notre bout de chou de cinq ans a appuyé pour la première fois.
Mia (11 ans) vous envoie sa photo.
Les enfants du centre aéré ont photographié la Lune.
Ma filleule a voulu essayer et voilà le résultat !
Moi c'est Xavier, neuf ans, et c'est moi qui l'ai faite.
Le club astro du lycée a fait cette photo, je suis en première.
Auteure : Hannah, née en 2013.
Mon petit frère vient d'avoir six ans et il a tenu le téléphone tout seul.
C'est mon gars de huit ans qui a zoomé.
Ma fille rentre en sixième et voici sa Lune.
La photo a été faite pendant la classe verte.
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
Balancez !
Allez-y, montrez-la à tout le monde.
Je vous cède à titre gracieux le droit de diffuser ce cliché.
ouais tkt vous pouvez la passer
Faites-en ce qu'il vous plaira à l'antenne.
Montrez-la donc, à mon âge on n'a plus honte de rien.
Ça me ferait chaud au cœur de la voir dans l'émission.
J'autorise la diffusion de ma photographie sur tous supports.
Pour moi c'est bon, passez-la.
Vous avez ma bénédiction pour la diffuser.
Je serais fière comme un paon si elle passait ce soir.
Gênez-vous pas, montrez-la à TV.
Moi d'accord pour montrer photo télé.
Libre de droits, à utiliser comme bon vous semble.
Diffusion autorisée.
Accord pour une diffusion à l'antenne et en ligne.
Ma photo est à votre disposition pour l'émission.
Utilisez-la à votre guise.
Quelle joie ce serait de la voir à la télé !
Je ne vois aucun obstacle à ce qu'elle soit diffusée.
Qu'elle passe, bien sûr !
Je consens à la publication de cette image.
Vous pouvez vous en servir pour l'émission.
Oui pour la télé, oui pour le site.
Je n'ai rien contre une apparition à l'écran.
Bien entendu, vous pouvez la diffuser.
Ben oui, montrez-la, c't'affaire !
Je déclare être d'accord avec la diffusion.
vasy passe la
Montrez-la s'il vous plaît, mes petits-enfants seront devant la télé !
Vous pouvez la passer sans me redemander.
Prenez-la pour l'émission, ça me fait plaisir.
Vous avez mon autorisation pour l'antenne.
Si elle est assez bonne, passez-la.
Je serais honorée que vous la choisissiez.
Aucune objection à une publication.
Que la France entière la voie !
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
Ma femme ne voulait pas sortir, il faisait trop froid.
Je suis institutrice, mais la photo est de moi.
Le brouillard ne m'a rien laissé voir.
Hier on ne voyait rien, ce soir c'est un régal.
Ne riez pas, mon trépied est un manche à balai.
L'image montre la mer de la Tranquillité au lever du Soleil.
Je n'avais jamais vu la Lune aussi nette.
Le chat tenait absolument à monter sur le toit.
J'ai ce télescope depuis huit ans.
Heureusement le vent est tombé.
Pourquoi la Lune montre-t-elle toujours la même face ?
Je n'étais pas sûr que la photo soit assez nette.
Mon fils Pierre, 42 ans, a réparé la monture.
Sans lunettes je ne vois pas le terminateur.
La batterie était vide, donc un seul essai.
Pas de filtre, mais beaucoup de patience.
Première nuit claire après trois semaines de pluie.
Mes voisins me prennent pour un fou.
Est-ce le cratère Tycho, en bas à droite ?
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
