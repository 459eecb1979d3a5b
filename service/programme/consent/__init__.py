"""Consent in a sender's words: what was said, and what makes it doubtful.

What words mean, in this order; each rule names what proves it, in tests/service.

A mail (`wording.read_words`):

1.  Each sentence is read by itself. A no beats a condition or a question, and these beat a yes; all of them are the
    evidence, word for word.
    test_consent: test_a_mails_words, test_the_evidence_is_every_sentence_about_it_word_for_word
2.  A sentence that may have to do with showing, and says so in no way that is known, is unclear (`letter.doubt`,
    where a language has such a rule, else its `restrict`).
    test_consent_fails_closed: test_every_way_to_say_no_is_refused_or_unclear, test_nor_is_any_that_says_it_in_its_own_way
3.  Only languages with a list are read (`letter.tongues`); a sentence in another is unclear.
    test_consent_fails_closed: test_no_mail_in_another_language_is_ready_by_itself
4.  What is quoted, repeated or stands in the signature can raise a doubt and never settle one.
    test_consent_fails_closed: test_a_quoted_mail_under_any_head_is_not_the_senders_word,
    test_a_companys_words_below_a_mail_are_unclear_and_no_refusal
5.  Words in a form that is not read, or too many of them, leave it unclear.
    test_consent_fails_closed: test_words_that_are_not_read_leave_it_unclear
6.  A child is noticed in the words and in the sender's name; it is asked about apart from all that.
    test_consent: test_a_childs_picture_is_noticed
    test_consent_fails_closed: test_no_childs_picture_is_ready_by_itself, test_a_childs_name_in_the_from_line_is_seen
7.  Only a mail all of whose words were understood says nothing by its silence.
    test_consent_fails_closed: test_an_ordinary_mail_says_nothing_without_terms

A cell of the programme's own table (`wording.consent_in_table`):

8.  A no beats all; what is neither yes nor no is unclear, never a yes.
    test_consent: test_the_tables_words
    test_consent_fails_closed: test_unknown_words_in_a_table_are_unclear

What all this decides stands in `moondesk.service.programme.permission`.
"""
