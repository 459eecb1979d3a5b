"""`python -m moondesk.service.settings`: every setting, by section, with its default and where it may be set."""

from moondesk.service.settings.config import all_settings

if __name__ == "__main__":
    section = ""
    for row in all_settings().values():
        if row.section != section:
            section = row.section
            print(f"\n[{section}]")
        where = " or ".join(
            filter(
                None,
                (
                    "moondesk.toml" * row.file,
                    "the desk" * row.desk,
                    f"the password itself in the environment as {row.secret}" * bool(row.secret),
                ),
            )
        )
        default = "" if row.default in (None, "", ()) else f" (default {row.default})"
        print(f"  {', '.join(row.lines) or row.key.partition('.')[2]}: {row.words}{default}; in {where}")
