"""The thin shell around `annotate`: everything that touches the world (files, mail, clock, store, web).

    folders, mailboxes, archives -> sources -> intake -> storage -> placing (annotate in children) -> storage -> desk

Imports run one way, service -> annotate. This file imports nothing, so that the command line starts quickly.
"""
