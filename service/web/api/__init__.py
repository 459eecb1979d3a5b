"""The desk's data as JSON for programs, under /api.

    operations (one table) -> document (OpenAPI 3.1), routes, what a request may hold
    store -> shapes -> schemas

What the table does not hold is not answered, and what a schema does not allow is not taken: the document cannot say
anything else than what the routes do.

A new route is a row of `operations.OPERATIONS` and the function of its name: in `reading` where its method is GET, else
in `changing`. Its line in `access.roles.ROUTES` says who may ask. What it answers that no schema has yet gets one in
`schemas`, and a function in `shapes` that fills it.
"""
