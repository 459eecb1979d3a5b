"""The web: the desk for the programme's people, its data for programs, and the audience's page on a port of its own.

    current     settings, store and rendering of this request; `new_app`
    problems    what goes wrong, as a page or as a problem for programs
    making      pictures and texts that are made when they are asked for
    access      who may come in, and what each may ask: `access.roles` has a line for every route
    api         the data as JSON
    desk        the pages, a room a folder
    public      the audience's page

A view parses, asks the store and the rules of `moondesk.service.programme`, and renders: it decides nothing itself.
"""
