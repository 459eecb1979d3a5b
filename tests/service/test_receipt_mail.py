"""The link to a receipt by mail: to whoever gave an address, once, and never more than a few a day to one."""

from __future__ import annotations

import email
import email.policy
import io
from datetime import UTC, datetime, timedelta

import fakes
import pytest
from smtp_servers import mail_server
from test_public import token_of

from moondesk.service.languages import REPLY_LANGUAGES
from moondesk.service.languages.catalogue import Language
from moondesk.service.replies.message import From
from moondesk.service.replies.receipt_mail import receipt_words, send_receipts
from moondesk.service.replies.sending import Post
from moondesk.service.replies.smtp import Outcome, Server
from moondesk.service.settings.config import CONFIG_NAME, read_config
from moondesk.service.store import receipt_mails
from moondesk.service.store.erasures import erase
from moondesk.service.store.messages import NOTHING
from moondesk.service.web.public.app import create_public_app

NOW = datetime(2026, 3, 25, 21, 0, tzinfo=UTC)
ADDRESS = "https://moon.example.org"
POST = Post(
    Server(host="127.0.0.1", port=1, security="plain", user="", password="", ca_file=""),
    From("The Evening Sky", "moon@evening-sky.example"),
)


def made(config, port=1, address=f'[public]\naddress = "{ADDRESS}"\n'):
    config.data_dir.mkdir(exist_ok=True)
    smtp = f'[smtp]\nhost = "127.0.0.1"\nport = {port}\nsecurity = "plain"\naddress = "moon@evening-sky.example"\n'
    (config.data_dir / CONFIG_NAME).write_text(smtp + address)
    return create_public_app(read_config(config.data_dir), lambda: NOW)


def send(client, address="ann@x.org", shade=90, language="en"):
    data = {
        "token": token_of(client),
        "name": "Ann",
        "address": address,
        "agreed": "yes",
        "pictures": [(io.BytesIO(fakes.png(shade=shade)), "a.png")],
    }
    answer = client.post(f"/?language={language}", data=data)
    assert answer.status_code == 303, answer.text
    return answer.headers["Location"].partition("?")[0]


def sent_by(storage, endings):
    mails = []

    def one(_server, _sender, to, mail):
        mails.append((to, email.message_from_bytes(mail, policy=email.policy.default)))
        return Outcome(endings.pop(0), NOTHING)

    told = list(send_receipts(storage, "The Evening Sky", POST, lambda key: f"{ADDRESS}/r/{key}", lambda: NOW, one))
    return told, mails


def test_the_link_is_mailed_to_the_address_that_was_given(config, storage):
    with mail_server() as (kept, port):
        app = made(config, port)
        client, here = app.test_client(), app.extensions["moondesk.public"]
        assert "We mail you the link" in client.get("/").text
        path = send(client, language="bg")
        here.receipts.start()
        for _ in range(200):
            if kept.mails:
                break
            here.receipts._thread.join(0.05)
        here.receipts.stop()
    (raw,) = kept.mails
    mail = email.message_from_bytes(raw, policy=email.policy.default)
    assert mail["To"] == "ann@x.org"
    assert mail["Auto-Submitted"] == "auto-generated"
    assert f"{ADDRESS}{path}" in mail.get_content()
    assert "Благодарим Ви!" in mail.get_content()
    assert client.get(path).status_code == 200
    assert not storage.read("select 1 from receipt_mails")


def test_without_an_address_a_server_or_a_page_address_nothing_is_mailed(config, storage):
    client = made(config).test_client()
    send(client, address="")
    assert not storage.read("select 1 from receipt_mails")
    (config.data_dir / CONFIG_NAME).write_text(f'[public]\naddress = "{ADDRESS}"\n')
    client = create_public_app(read_config(config.data_dir), lambda: NOW).test_client()
    send(client, shade=91)
    client = made(config, address="").test_client()
    send(client, shade=92)
    assert "We mail you the link" not in client.get("/").text
    assert not storage.read("select 1 from receipt_mails")


def test_the_same_form_sent_twice_is_mailed_once_and_one_taken_back_not_at_all(config, storage):
    client = made(config).test_client()
    send(client)
    assert sent_by(storage, ["sent"])[0] == ["sent"]
    assert sent_by(storage, [])[0] == []
    send(client, shade=91)
    erase(storage, [2], NOW)
    assert sent_by(storage, [])[0] == []


def test_nobody_is_flooded(config, storage):
    client = made(config).test_client()
    for k in range(8):
        send(client, shade=60 + k)
    send(client, address="bo@x.org", shade=50)
    _told, mails = sent_by(storage, ["sent"] * 9)
    assert [to for to, _ in mails] == ["ann@x.org"] * 5 + ["bo@x.org"]


@pytest.mark.parametrize(("endings", "tries"), [(["later"], 1), (["failed"], 0), (["unknown"], 0)])
def test_only_what_the_server_asks_for_later_is_tried_again(config, storage, endings, tries):
    client = made(config).test_client()
    send(client)
    sent_by(storage, [*endings])
    rows = storage.read("select tries, next_utc from receipt_mails")
    assert [r["tries"] for r in rows] == [tries] * bool(tries)
    for _ in range(9):
        due = receipt_mails.claim(storage, NOW + timedelta(days=9))
        if due:
            receipt_mails.later(storage, due, NOW)
    assert not storage.read("select 1 from receipt_mails")


@pytest.mark.parametrize("code", REPLY_LANGUAGES)
def test_words(code):
    subject, body = receipt_words("The Evening Sky", "https://x.org/r", Language(code))
    assert "The Evening Sky" in subject
    assert "https://x.org/r" in body
    assert code == "en" or "Thank you" not in body
