"""Static files as they are served: one joined style sheet, few joined scripts, all named by a hash of their content.

They are collected into `STATIC_ROOT` at each start, with a compressed copy beside each that gets smaller by it. Nothing
is deleted there: what a page of an older version links stays, under its own name.
"""

import os
import re
import shutil
from functools import partial
from pathlib import Path

from django.conf import settings
from django.contrib.staticfiles import finders
from django.contrib.staticfiles.management.commands import collectstatic
from django.core.files.base import ContentFile
from django.core.management import call_command
from whitenoise.storage import CompressedManifestStaticFilesStorage

from .data_folder import STATIC_DRAFT

STYLES = "css/all.css"
PART = re.compile(r'@import "(\w+\.css)";\n')
COMMENT = re.compile(r"/\*.*?\*/\n?", re.DOTALL)
REMARK = re.compile(r"^ *//.*\n", re.MULTILINE)
QUEUE = [f"queue_{part}" for part in ("store", "keep", "send", "view", "draft", "photos", "files", "forms")]
# {joined: the scripts of js/ in it, in the order in which they run}
SCRIPTS = {
    "page": ["typed_fields", *QUEUE, "queue_start", "menu", "typed", "refused", "sent"],
    "signed_out": [*QUEUE, "queue_start", "refused"],
    "shell": ["typed_fields", *QUEUE, "queue_shell", "queue_start", "mat_list", "mat_picker", "event_log"],
}


def joined_styles():
    """The text of all style sheets in the order of all.css; they lie in one folder, so each url() still holds."""
    styles = Path(finders.find(STYLES))
    joined = PART.sub(lambda part: styles.with_name(part[1]).read_text("utf-8"), styles.read_text("utf-8"))
    return COMMENT.sub("", joined)


def joined_script(name):
    """The text of one of SCRIPTS, without remarks; each script ends its last statement, so one may follow another."""
    texts = (Path(finders.find(part)).read_text("utf-8") for part in parts_of_script(name))
    return REMARK.sub("", "\n".join(texts))


def parts_of_script(name):
    return [f"js/{part}.js" for part in SCRIPTS[name]]


def script_name(name):
    return f"js/all_{name}.js"


def _has_parts(paths, name):
    return paths.keys() >= set(parts_of_script(name))


class StaticFiles(CompressedManifestStaticFilesStorage):
    def post_process(self, paths, dry_run=False, **options):
        if not dry_run:
            self._join(paths)
        yield from super().post_process(paths, dry_run=dry_run, **options)

    def _join(self, paths):
        joined = {STYLES: joined_styles} if STYLES in paths else {}
        joined |= {script_name(name): partial(joined_script, name) for name in SCRIPTS if _has_parts(paths, name)}
        for name, text in joined.items():
            self.delete(name)
            self.save(name, ContentFile(text().encode()))
            paths[name] = (self, name)

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
