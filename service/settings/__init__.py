"""What can be set, and where: at the desk < in moondesk.toml < in the environment < by option.

To add a setting: one row, which is a field of its section's record with `setting(default, parse, words)` in `config` or
`public`, or a line of `config.LOOSE` where its reader checks it later. Reading moondesk.toml, refusing what is no
setting, what counts when it was set at the desk (`desk=True`), its words in the audit list, a line of the desk's form and `python -m moondesk.service.settings`, which prints all settings, follow from the row. (A field
with a look of its own stands in `moondesk.service.web.settings_form`.)

Settings know no store: what was set at the desk is handed in as a mapping.
"""
