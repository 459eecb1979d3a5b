"""Sentences in Portuguese that others would write so: of other regions, ages and moods than the corpus has."""

from __future__ import annotations

import pytest

from moondesk.service.programme.consent.wording import Consent, read_words

REFUSALS = (
    "Prefiro que a minha foto não seja vista por mais ninguém.",
    "Não queria que isto fosse parar à internet.",
    "gente, essa é só pra vocês, não vai pro ar não tá",
    "Peço-vos que não a mostrem na televisão.",
    "Não dou autorização para a utilização da imagem.",
    "Guardem só para vocês, por favor.",
    "A minha mulher não quer que a fotografia apareça no programa.",
    "Nada de redes sociais nem TV.",
    "Esta imagem é confidencial.",
    "por favor n publiquem, é particular",
    "Proíbo qualquer divulgação desta fotografia.",
    "Não me ponham no ar, que sou muito envergonhada.",
    "Recuso-me a que seja transmitida.",
    "Envio a título pessoal, não para transmitir.",
    "Que fique entre nós, está bem?",
    "Agradeço que não a divulguem.",
    "Seria melhor que ela não saísse daí da redação.",
    "Evitem mostrá-la, se faz favor.",
    "Passar na TV, nem pensar.",
    "Não posta em lugar nenhum, viu?",
    "Autorização para exibir: não",
    "Exclusivamente para uso interno da equipa.",
    "Deixem esta de fora do programa, por favor.",
    "Não concordo com a exibição.",
    "Não consinto que a usem.",
    "Mandei pra vocês verem, mas não é pra botar no programa.",
    "Gostava que não a pusessem no ar.",
    "Não quero aparecer.",
    "Fica só com vocês, combinado?",
    "Abstenham-se de a publicar.",
)
WITHDRAWALS = (
    "Podem apagar a foto que vos enviei ontem?",
    "Mudei de ideia, não quero mais participar.",
    "Façam de conta que não mandei nada.",
    "Foi por engano que enviei aquela imagem, ignorem-na.",
    "Revogo a autorização que dei no sábado.",
    "Com base na LGPD, solicito a exclusão das minhas imagens.",
    "joga fora aquela foto que te mandei pfv",
    "Tirem a minha fotografia do vosso site.",
    "Já não autorizo a publicação.",
    "Esqueçam a foto de ontem.",
    "Queria que retirassem o meu envio.",
    "Desisti de participar, podem deletar tudo.",
)
CHILDREN = (
    "Quem tirou foi o meu filhote de sete anos.",
    "Tenho 13 anos e adoro astronomia.",
    "A foto é da minha neta Inês, 9 anos.",
    "Sou o Tomás e ando no 4.º ano.",
    "As crianças da minha turma fotografaram a Lua.",
    "minha menina de 5 aninhos apertou o botão",
    "estou no sétimo ano e minha mãe me ajudou",
    "Foi o meu miúdo mais novo que a tirou.",
    "Os meus alunos do 6.º ano fizeram estas imagens.",
    "O autor é um garoto de onze anos, meu vizinho.",
    "Faço 12 anos amanhã e mando a minha lua.",
    "Sou menor de idade, mas os meus pais sabem.",
)
YES = (
    "Claro, podem usar quando quiserem.",
    "Têm a minha autorização para mostrá-la.",
    "Não me importo nada que a passem.",
    "Adorava vê-la no programa.",
    "Fiquem à vontade para publicar.",
    "Por mim podem pôr no ar.",
    "pode postar sim, sem problema",
    "Autorização: sim",
    "Concordo com a exibição da minha foto.",
    "Ficaria muito feliz se a mostrassem.",
)
OPEN = (
    "Podem mostrar se me avisarem antes.",
    "Quanto pagam pela foto se a passarem na TV?",
    "Só autorizo com o meu nome no ecrã.",
    "Podem usar desde que não cortem a assinatura.",
    "Antes de publicarem, gostava de falar convosco.",
)
PLAIN = (
    "Não se vê bem a cratera por causa das nuvens.",
    "Não usei filtro nem tripé.",
    "A Lua tinha 9 dias e o céu estava limpo.",
    "O meu telescópio tem 15 anos.",
    "Há seis anos que observo a Lua da minha varanda.",
    "O tempo não ajudou e não consegui tirar mais fotos.",
    "Mando um abraço de Évora para toda a equipa.",
    "Aos 45 anos, é a primeira vez que vejo as crateras.",
    "Eliminei o ruído no computador e cortei a imagem.",
    "Nunca tinha visto uma Lua tão bonita no céu.",
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
