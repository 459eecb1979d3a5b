"""The thin shell around the core: everything that touches the world (files, mail, clock, store, web).

    intake -> store -> jobs (the core, in children) -> store -> studio and programme's rules -> web, exports, replies

Rooms by floor, lowest first: settings, store, programme, jobs, studio, intake and exports and replies, web, cli; imports run
downwards (tests/test_architecture.py). This file imports nothing, so that the command line starts quickly.
"""
