"""Sentences in Spanish that others would write so: of other regions, ages and moods than the corpus has."""

from __future__ import annotations

import pytest

from moondesk.service.programme.consent.wording import Consent, read_words

REFUSALS = (
    "Prefiero que mi foto no se vea en pantalla.",
    "Les pido que esta toma se quede con ustedes y ya.",
    "porfis no la vayan a sacar al aire",
    "Se la envío al equipo a título personal, sin que deba difundirse.",
    "Oigan, esta no es pa la tele, es nomás pa presumirles.",
    "No quisiera que mi imagen terminara circulando por internet.",
    "Mi marido no quiere que la pongáis en el programa.",
    "Nada de redes sociales ni de televisión, por favor.",
    "Esta captura es estrictamente confidencial.",
    "Guárdensela, que no es para enseñar.",
    "No cuentan con mi consentimiento para emitirla.",
    "Os agradecería muchísimo que la dejarais fuera del programa.",
    "Prohíbo cualquier uso público de la imagen adjunta.",
    "No la subás a ningún lado, che.",
    "que no salga en la tele plis",
    "Me da mucha vergüenza, así que mejor no la pongan.",
    "La mando solo por gusto; no hace falta que la vea nadie más que ustedes, y de hecho no quiero.",
    "Me niego a que se publique.",
    "Ojo, no doy permiso para que la usen.",
    "Sería mejor que quedara en el cajón de la redacción.",
    "Evitad mostrarla, os lo ruego.",
    "Lo de mostrarla en directo, ni hablar.",
    "A mí no me saquen en ningún sitio.",
    "Permiso para emitir: NO",
    "Únicamente para vuestros ojos.",
    "Esto que quede entre nosotros.",
    "Por favor, absténganse de divulgar la fotografía.",
    "No estoy conforme con que se exhiba.",
    "Yo la foto la comparto con vosotros, con nadie más.",
    "Esta foto no sale de la redacción, ¿vale?",
    "Ni se os ocurra ponerla por la tele.",
    "La foto es un regalo para el equipo, nada más.",
    "Quisiera que permaneciera en el ámbito privado.",
    "De sacarla en antena, nada.",
    "Mi respuesta es no.",
    "Me sabría fatal verla en pantalla.",
    "Preferiría no figurar en su espacio.",
    "Es una imagen íntima, dedicada solo a ustedes.",
    "Les ruego la máxima discreción con esta imagen.",
    "no es pa que la anden enseñando",
    "Con que la veáis vosotros me basta.",
    "Me conformo con que la vean ustedes; al público no se la muestren.",
    "No he autorizado a nadie a exhibirla.",
    "Paso de salir en la tele.",
    "Que conste que no autorizo su uso.",
    "Yo les pediría que la dejaran guardada.",
    "Quiero que se quede en familia.",
    "No hace falta que la enseñéis, es para vosotros.",
    "Se ruega no reproducir.",
    "Absténganse de usarla.",
    "Lo que os mando es para consumo propio, no para la audiencia.",
    "Cuidado, que no tienen los derechos para transmitirla.",
    "Mamá dice que no la pongan.",
    "No la querría ver yo en Instagram ni en la tele.",
    "La envío fuera de concurso y sin permiso de emisión.",
    "Ustedes véanla, pero al aire no.",
    "Yo no doy el visto bueno.",
    "Sin autorización para su difusión.",
    "Que no la vaya a ver todo México, por favor.",
    "No me la saquen, eh.",
    "Ojalá puedan respetar que no quiero que salga.",
    "Esta no la muestren que salió fea.",
    "Quedaos la foto, pero sin enseñarla.",
    "esta es solo pa vos, no la subas",
    "Nunca permitiría que saliera en un programa.",
    "Les mando esto en confianza, no la difundan.",
    "Tengan la bondad de no exhibirla.",
    "Conste mi negativa a la publicación.",
)
WITHDRAWALS = (
    "Al final he decidido que no quiero salir, así que borradla, por favor.",
    "Hagan de cuenta que nunca les mandé nada.",
    "Les escribo para que eliminen mi fotografía de su base de datos.",
    "Quiero dar de baja la foto del otro día.",
    "Me equivoqué de archivo, no era esa la que quería mandar.",
    "Anulo el permiso que les di el sábado.",
    "bótenla a la basura porfa, ya no me gusta",
    "Cambié de opinión sobre la imagen que les pasé.",
    "En virtud del RGPD solicito la supresión de mis imágenes.",
    "Olvidaos de la foto que os mandé ayer.",
    "Ya no autorizo que usen mi foto.",
    "¿Me podrían quitar de su lista y borrar mis fotos?",
    "Bórrenme de todo, por favor.",
    "Me gustaría retirar mi candidatura.",
    "He cambiado de parecer y ya no quiero que la saquéis.",
    "Por favor, desechen lo que les mandé.",
    "La foto del lunes no la tengan en cuenta, la mandé sin querer.",
    "Elimínenla cuanto antes.",
    "Les ruego que destruyan la copia que tienen.",
    "Retiro lo dicho, no pueden usarla.",
    "quita mi foto porfa",
    "Quisiera ejercer mi derecho de supresión.",
    "Me echo para atrás.",
    "Tiren a la basura la anterior.",
    "Dejen de usar mi fotografía a partir de hoy.",
    "Pido que quiten la imagen de la web.",
)
CHILDREN = (
    "La sacó mi chamaco de ocho años con su telescopio de juguete.",
    "Soy Valentina, tengo 11 y me encanta la luna.",
    "Esta foto la hicieron los niños de mi clase de cuarto.",
    "Mi nena de 6 añitos apretó el botón solita.",
    "estoy en segundo de secundaria y mi papá me prestó el telescopio",
    "El fotógrafo es mi hijo pequeño, que acaba de cumplir nueve.",
    "Voy en quinto grado y esta es mi foto.",
    "Nuestros alumnos de primaria fotografiaron la Luna desde el patio del colegio.",
    "Cumplo trece años mañana y os mando mi luna.",
    "Foto tomada por mi nieta Lucía, 10 años.",
    "La autora es mi sobrinita.",
    "Soy menor de edad pero mis padres me dejan.",
    "Mi pequeña Daniela, que está en tercero, la tomó con mi celular.",
    "La he hecho yo, que tengo nueve años.",
    "Pedrito (8 años) os manda su luna.",
    "Son fotos de los chicos del taller de la escuela 14.",
    "Nuestra hija mayor, de trece, se levantó a las cinco para hacerla.",
    "La hizo el peque de la casa.",
    "Mi bisnieto sacó esta foto.",
    "Soy alumna de 3.º de primaria.",
    "La capturó un niño del barrio, de unos once años.",
    "Nací en 2015 y me gusta la astronomía.",
    "El que disparó fue mi ahijado, todavía en kínder.",
    "Mis gemelos de siete años la sacaron.",
)
YES = (
    "Claro que sí, pueden usarla cuando gusten.",
    "Tienen todo mi permiso para pasarla.",
    "No tengo inconveniente en que la publiquéis.",
    "Me haría mucha ilusión verla en el programa.",
    "Úsenla con confianza.",
    "Os autorizo a mostrarla en antena.",
    "Por mi parte, adelante, ponedla cuando queráis.",
    "sii porfa muéstrenla",
    "Permiso: sí",
    "Me encantaría que la enseñarais esta noche.",
    "Por supuesto, tienen mi autorización.",
    "Hagan con ella lo que gusten.",
    "Por si quieren mostrarla, ahí les va.",
    "Está a su entera disposición.",
    "Sería un sueño verla en su programa.",
    "Nos encantaría que la pusierais.",
    "Va con permiso para emitirla.",
    "¡Que la vea todo el mundo!",
    "Con muchísimo gusto les doy permiso.",
    "Quedan autorizados a publicarla.",
    "Sáquenla al aire sin problema.",
    "La podéis usar libremente.",
    "Sí, quiero que la muestren.",
    "Doy mi conformidad para su emisión.",
    "Ojalá la saquen esta noche.",
    "Si les gusta, pueden mostrarla.",
    "Muéstrenla, que me da mucha alegría.",
    "No me importa que la enseñéis.",
)
OPEN = (
    "Pueden mostrarla si me avisan antes.",
    "¿Hay que pagar algo si la ponen en la tele?",
    "Solo si sale mi nombre pueden usarla.",
    "Podéis emitirla siempre que no recortéis la firma.",
    "Antes de publicarla me gustaría hablar con ustedes.",
    "Si me mandan una copia del programa, pueden pasarla.",
    "Necesito consultarlo con mi socio antes de autorizarla.",
    "¿La van a subir también a internet?",
    "Pueden publicarla a condición de que se vea mi firma.",
    "Tal vez les deje ponerla, denme unos días.",
    "Podéis usarla una sola vez.",
    "Cuando firmemos el acuerdo, podrán emitirla.",
)
PLAIN = (
    "No se ve muy bien el cráter por las nubes.",
    "No usé ningún filtro ni trípode.",
    "La Luna tenía 9 días y el cielo estaba limpio.",
    "Mi telescopio tiene 15 años.",
    "Llevo seis años mirando la Luna desde mi terraza.",
    "El tiempo no acompañó y no pude hacer más fotos.",
    "Les mando un saludo desde Toledo a todo el equipo.",
    "A mis 45 años es la primera vez que veo los cráteres.",
    "Eliminé el ruido con un programa y recorté la imagen.",
    "Nunca había visto una luna tan bonita.",
    "No tengo telescopio propio, uso el de mi cuñado.",
    "Nunca me pierdo el programa.",
    "Soy aficionada desde hace 40 años.",
    "Mi hijo, de 25 años, me ayudó con el trípode.",
    "La verdad es que no esperaba que saliera tan bien.",
    "No sé mucho de astronomía, pero me encanta.",
    "La noche no estaba muy clara.",
    "Mi abuelo me enseñó las estrellas cuando era niño.",
    "La foto no está editada.",
    "Hoy no hay nubes y se ve todo el terminador.",
    "Gracias por mostrar la semana pasada las fotos de los oyentes.",
    "El ocular es de 10 mm y la cámara tiene 12 megapíxeles.",
    "Salí al patio a las nueve y la saqué sin trípode.",
    "La Luna salió por detrás del monte.",
)


def read(text: str) -> Consent:
    return read_words("", text)[0]


@pytest.mark.parametrize("text", REFUSALS)
def test_refusal(text: str) -> None:
    assert read(text).state == "refused"


@pytest.mark.parametrize("text", WITHDRAWALS)
def test_withdrawal(text: str) -> None:
    assert read(text).withdrawal


@pytest.mark.parametrize("text", CHILDREN)
def test_child(text: str) -> None:
    assert read(text).minor


@pytest.mark.parametrize("text", YES)
def test_yes(text: str) -> None:
    assert read(text).state == "suggested"


@pytest.mark.parametrize("text", OPEN)
def test_open(text: str) -> None:
    assert read(text).state == "unclear"


@pytest.mark.parametrize("text", PLAIN)
def test_nothing(text: str) -> None:
    said = read(text)
    assert said.state not in ("refused", "suggested")
    assert not said.minor
    assert not said.withdrawal
