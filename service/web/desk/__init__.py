"""The desk's pages: a folder for each room, in it the views and, beside them, what a page shows (`..._page`, pure).

A new address is a view in its room's module, on the room's blueprint (`views.desk` for the inbox and for pictures), and
a line in `access.roles.ROUTES`; without that line it answers nobody, and `tests/service/test_roles.py` names it. The
page is a frozen record, rendered by `current.render` or `current.show` into a template that sees its fields alone. A
new room's blueprint is registered in `app`. How buttons, fields and notices look stands in `static/components.css`;
a page's own sheet says only where they stand.
"""
