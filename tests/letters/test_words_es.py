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
)
OPEN = (
    "Pueden mostrarla si me avisan antes.",
    "¿Hay que pagar algo si la ponen en la tele?",
    "Solo si sale mi nombre pueden usarla.",
    "Podéis emitirla siempre que no recortéis la firma.",
    "Antes de publicarla me gustaría hablar con ustedes.",
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
    assert said.state not in ("refused", "suggested") and not said.minor and not said.withdrawal
