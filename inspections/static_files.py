"""Static files as they are served: one joined style sheet, and every name with a hash of its content in it.

They are collected into `STATIC_ROOT` at each start. Nothing is deleted there: what a page of an older version
links stays, under its own name.
"""

import os
import re
import shutil
from pathlib import Path

from django.conf import settings
from django.contrib.staticfiles import finders
from django.contrib.staticfiles.management.commands import collectstatic
from django.contrib.staticfiles.storage import ManifestStaticFilesStorage
from django.core.files.base import ContentFile
from django.core.management import call_command

from .data_folder import STATIC_DRAFT

STYLES = "css/all.css"
PART = re.compile(r'@import "(\w+\.css)";\n')
COMMENT = re.compile(r"/\*.*?\*/\n?", re.DOTALL)


def joined_styles():
    """The text of all style sheets in the order of all.css; they lie in one folder, so each url() still holds."""
    styles = Path(finders.find(STYLES))
    joined = PART.sub(lambda part: styles.with_name(part[1]).read_text("utf-8"), styles.read_text("utf-8"))
    return COMMENT.sub("", joined)


class StaticFiles(ManifestStaticFilesStorage):
    def post_process(self, paths, dry_run=False, **options):
        if STYLES in paths and not dry_run:
            self.delete(STYLES)
            self.save(STYLES, ContentFile(joined_styles().encode()))
            paths[STYLES] = (self, STYLES)
        yield from super().post_process(paths, dry_run, **options)

    def stored_name(self, name):
        """A page that reports a failure is shown without styles rather than not at all."""
        try:
            return super().stored_name(name)
        except ValueError:
            return name


def collect_static_files():
    """Fill `STATIC_ROOT`, each file whole or not at all; the manifest that names them comes last. One at a time."""
    root = Path(settings.STATIC_ROOT)
    draft = root.with_name(STATIC_DRAFT)
    shutil.rmtree(draft, ignore_errors=True)
    collector = collectstatic.Command()
    collector.storage = StaticFiles(draft)
    call_command(collector, interactive=False, verbosity=0)
    made = [path for path in draft.rglob("*") if path.is_file()]
    for path in sorted(made, key=lambda path: path.name == StaticFiles.manifest_name):
        target = root / path.relative_to(draft)
        target.parent.mkdir(parents=True, exist_ok=True)
        os.replace(path, target)
    shutil.rmtree(draft)
