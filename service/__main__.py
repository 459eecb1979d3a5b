"""`python -m moondesk.service`: the command line."""

from moondesk.service.cli.main import main

if __name__ == "__main__":
    main(prog_name="moondesk")
