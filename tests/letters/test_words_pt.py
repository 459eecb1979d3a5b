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
    "Nem pensem em pô-la na televisão.",
    "A foto é um presente para a equipa, mais nada.",
    "Queria que ficasse no âmbito privado.",
    "A minha resposta é não.",
    "Custava-me vê-la no ecrã.",
    "Preferia não figurar no programa.",
    "É uma imagem íntima, só para vocês.",
    "Peço-lhes a máxima discrição com esta imagem.",
    "não é pra ficar mostrando por aí",
    "Basta-me que vocês a vejam.",
    "Para mim chega que vocês vejam; ao público não mostrem.",
    "Não autorizei ninguém a exibi-la.",
    "Dispenso aparecer na TV.",
    "Fique claro que não autorizo o uso.",
    "Eu pediria que a deixassem guardada.",
    "Quero que fique em família.",
    "Não preciso que mostrem, é para vocês.",
    "Favor não reproduzir.",
    "Abstenham-se de usá-la.",
    "O que mando é para consumo próprio, não para a audiência.",
    "Mamãe disse que não é pra colocar.",
    "Não gostaria de vê-la no Instagram nem na TV.",
    "Envio fora de concurso e sem permissão de exibição.",
    "Vejam vocês, mas no ar não.",
    "Não dou o aval.",
    "Sem autorização para divulgação.",
    "Não me coloquem na tela, tá?",
    "essa não mostra que ficou feia",
    "Fiquem com a foto, mas sem a mostrar.",
    "é só pra ti, não posta",
    "Nunca permitiria que saísse num programa.",
    "Mando isto em confiança, não divulguem.",
    "Tenham a bondade de não exibir.",
    "Fica registada a minha recusa à publicação.",
    "Esta fica só entre a gente.",
    "Não pode usar, ok?",
    "Por favor, não usem a minha foto.",
    "Não quero ela na internet de jeito nenhum.",
    "Peço que respeitem: nada de transmissão.",
    "Gostaria que ficasse apenas com a redação.",
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
    "Apaguem-me de tudo, por favor.",
    "Gostaria de retirar a minha candidatura.",
    "Mudei de opinião e já não quero que a passem.",
    "Por favor, descartem o que mandei.",
    "A foto de segunda não é para considerar, mandei sem querer.",
    "Eliminem-na o quanto antes.",
    "Peço que destruam a cópia que têm.",
    "Retiro o que disse, não podem usar.",
    "tira minha foto pfv",
    "Quero exercer o meu direito ao apagamento.",
    "Vou voltar atrás.",
    "Deitem ao lixo a anterior.",
    "Parem de usar a minha fotografia a partir de hoje.",
    "Peço que tirem a imagem do site.",
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
    "A minha pequena Daniela, que está na terceira classe, tirou-a com o meu telemóvel.",
    "Fui eu que fiz, tenho nove anos.",
    "Pedrinho (8 anos) manda a sua lua.",
    "São fotos das crianças da oficina da escola.",
    "Nossa filha mais velha, de treze, acordou às cinco para tirar.",
    "Foi o caçula da casa que fez.",
    "O meu bisneto tirou esta foto.",
    "Sou aluna do 3.º ano.",
    "Quem captou foi um menino do bairro, de uns onze anos.",
    "Nasci em 2015 e gosto de astronomia.",
    "Quem clicou foi meu afilhado, ainda na creche.",
    "Os meus gémeos de sete anos tiraram.",
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
    "Com certeza, têm a minha autorização.",
    "Façam com ela o que quiserem.",
    "Caso queiram mostrar, aí vai.",
    "Está à vossa inteira disposição.",
    "Seria um sonho vê-la no programa.",
    "Vai com permissão para exibir.",
    "Com muito gosto dou autorização.",
    "Ficam autorizados a publicá-la.",
    "Podem botar no ar sem problema.",
    "Podem usá-la livremente.",
    "Sim, quero que a mostrem.",
    "Tomara que passem hoje à noite.",
    "Se gostarem, podem mostrar.",
    "Mostrem, que fico muito feliz.",
    "Não me importo que a mostrem.",
    "Pode passar sim, é uma honra.",
)
OPEN = (
    "Podem mostrar se me avisarem antes.",
    "Quanto pagam pela foto se a passarem na TV?",
    "Só autorizo com o meu nome no ecrã.",
    "Podem usar desde que não cortem a assinatura.",
    "Antes de publicarem, gostava de falar convosco.",
    "Se me mandarem uma cópia do programa, podem passar.",
    "Preciso consultar o meu sócio antes de autorizar.",
    "Vão colocá-la também na internet?",
    "Podem publicar com a condição de se ver a minha assinatura.",
    "Talvez deixe, deem-me uns dias.",
    "Podem usar uma única vez.",
    "Quando assinarmos o acordo, poderão exibir.",
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
    "Não tenho telescópio próprio, uso o do meu cunhado.",
    "Nunca perco o programa.",
    "Sou amadora há 40 anos.",
    "O meu filho, de 25 anos, ajudou-me com o tripé.",
    "Na verdade não esperava que ficasse tão boa.",
    "Não percebo muito de astronomia, mas adoro.",
    "A noite não estava muito clara.",
    "O meu avô mostrou-me as estrelas quando eu era criança.",
    "A foto não está editada.",
    "Hoje não há nuvens no céu e vê-se todo o terminador.",
    "Obrigado por mostrarem na semana passada as fotos dos ouvintes.",
    "Um abraço de Aveiro, e não deixem de fazer o programa.",
    "A ocular é de 10 mm e a câmara tem 12 megapixels.",
    "Saí ao quintal às nove e tirei sem tripé.",
    "A Lua nasceu por detrás do monte.",
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
