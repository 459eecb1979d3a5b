"""The desk's data as JSON for programs, under /api.

    operations (one table) -> document (OpenAPI 3.1), routes, what a request may hold
    store -> shapes -> schemas

What the table does not hold is not answered, and what a schema does not allow is not taken: the document cannot say
anything else than what the routes do.
"""
