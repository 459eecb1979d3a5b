"""The thin shell around `annotate`: everything that touches the world (files, mail, clock, store, web).

    folder, mails -> intake -> storage -> placing (annotate in worker processes) -> storage -> desk pages

Imports run one way, service -> annotate. This file imports nothing, so that the command line starts quickly.
"""
