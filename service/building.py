"""How the package is built: the sample submissions, which lie beside it in the source tree, travel inside it.

Named in pyproject.toml and used by setuptools alone; nothing of the product imports it.
"""

from __future__ import annotations

from pathlib import Path
from typing import Any

from setuptools.command.build_py import build_py

SOURCE, TARGET = Path("sample_submissions"), Path("moondesk", "service", "samples")


class BuildWithSamples(build_py):
    """Copies them where `moondesk.service.cli.demo.find_samples` looks."""

    def run(self) -> None:
        super().run()
        if self.editable_mode:
            return  # the source tree is what runs
        for source, target in self._samples().items():
            self.mkpath(str(Path(target).parent))
            self.copy_file(source, target)

    def get_source_files(self) -> list[str]:
        """They are part of a source archive too."""
        return [*super().get_source_files(), *self._samples()]

    def get_outputs(self, *args: Any, **kwargs: Any) -> list[str]:
        return [*super().get_outputs(*args, **kwargs), *self._samples().values()]

    def get_output_mapping(self) -> dict[str, str]:
        return {**super().get_output_mapping(), **{to: source for source, to in self._samples().items()}}

    def _samples(self) -> dict[str, str]:
        return {
            path.as_posix(): str(Path(self.build_lib) / TARGET / path.name)
            for path in sorted(SOURCE.iterdir())
            if path.is_file()
        }
