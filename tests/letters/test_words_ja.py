"""Japanese as other people write it: what must be read of a sentence."""

import pytest

from tests.letters.words import check

REFUSED = """
番組での使用はお控えください。
テレビには流さないでほしいです。
この写真を公開することには同意できません。
ネットに載せるのはやめてください
身内の写真なので、放送だけはご勘弁ください。
見てもらいたかっただけなので、紹介はしなくて大丈夫です。
ほうそうしないでください
使わないでね！
放送NGでお願いします
皆さまの間だけでお楽しみください。
外部への公開は固くお断りいたします。
あまり人に見られたくない写真です。
映さんといてください、恥ずかしいんで。
掲載は希望しません。
オンエアはなしの方向で
できれば世に出してほしくないのですが。
これは内緒にしておいてください。
放送用ではありません、念のため。
社内規定により放送の許可は出せません。
応募のつもりではないので、取り上げないようにお願いします。
SNSへの転載は固くお断りします
テレビに出すのはちょっと勘弁してほしいなあ
画面には出さずにお願いできればと思います。
勝手に使われるのは困ります。
"""
TAKEN_BACK = """
この前送った写真、消してもらえますか。
先日の応募を取り下げます。
間違えて家族の写真を送ってしまいました、破棄をお願いします
やっぱり放送はやめてください。
気が変わりましたので写真を返してください。
許可を取り消したいです
あの画像、なかったことにしてください
昨日の投稿はキャンセルで！
以前承諾しましたが、事情が変わったため今後は使用しないでください。
データを抹消してくださるようお願い致します。
"""
CHILD = """
小3の孫がはじめて撮った月です。
わたしは10さいです。
うちの息子（9歳）が撮影しました。
中学校の天文部です。
娘がシャッターを押しました。
ぼくは小学生です、お父さんに手伝ってもらいました
姪っ子の作品です、見てやってください。
五年生の弟が撮った写真です。
来月七歳になる孫の一枚
クラスのみんなで月をとりました
高校二年の長男が望遠鏡で撮影
甥が夏休みの自由研究で撮りました。
"""
AGREED = """
番組で使ってください。
放送していただいて構いません。
ご自由にお使いください！
公開しても問題ありません。
もしよければ番組で紹介してください、家族で見ています
テレビで流してもらえたら嬉しいです。
使用を許可します。
全然使っちゃってください〜
写真の放送に同意いたします。
どうぞどうぞ、放送OKです
"""
NEUTRAL = """
私の望遠鏡は15歳になります。
子供の頃から月が好きでした。
40歳の息子が撮りました。
昨日は雲が多くて何も見えませんでした。
月の高度は12度でした。
毎週楽しく見ています。
"""


@pytest.mark.parametrize("text", REFUSED.strip().splitlines())
def test_a_no_is_read(text):
    check(text, "ja", consent="no")


@pytest.mark.parametrize("text", TAKEN_BACK.strip().splitlines())
def test_what_is_taken_back_is_read(text):
    check(text, "ja", withdrawal=True)


@pytest.mark.parametrize("text", CHILD.strip().splitlines())
def test_a_child_is_read(text):
    check(text, "ja", child=True)


@pytest.mark.parametrize("text", AGREED.strip().splitlines())
def test_a_yes_is_read(text):
    check(text, "ja", consent="yes")


@pytest.mark.parametrize("text", NEUTRAL.strip().splitlines())
def test_what_says_nothing_of_it_is_left(text):
    check(text, "ja")
