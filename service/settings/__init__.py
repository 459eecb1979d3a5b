"""What can be set, and where: at the desk < in moondesk.toml < in the environment < by option.

To add a setting: one row, which is a field of its section's record with `setting(default, parse, words)` in `config` or
`public`, or a line of `config.LOOSE` where its reader checks it later. Reading moondesk.toml, refusing what is no
setting, what counts when it was set at the desk (`desk=True`), its words in the audit list and
`python -m moondesk.service.settings`, which prints all settings, follow from the row. What is set at the desk wants
its field in `moondesk.service.web.settings_form` too.

Settings know no store: what was set at the desk is handed in as a mapping.
"""
