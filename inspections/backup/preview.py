"""What a restore would change, before it is done: what is in the pool and what in the back-up, side by side."""

from dataclasses import dataclass
from datetime import date, datetime
from functools import lru_cache

from django.apps import apps
from django.contrib.auth.models import User
from django.utils import timezone

from fleet.models import Pool
from fleet.selectors.people import keepers_who_can_sign_in

from ..data_folder import PHOTOS
from .accounts_back import ways_in
from .engines import engine_in_use
from .files import is_photo, listed_files, pool_files
from .records import NO_RECORDS, RECORDS, Held, held_now, rows_in_use
from .restoring import lacking, opened_to_restore, unpacked, what_goes

PHOTO_WORDS, OTHER_FILES = "photos", "sweep files"


@dataclass(frozen=True)
class Kind:
    """How many of a kind: in the pool, of these entered after the back-up was made (None: not known), in the back-up
    (None: it leaves those of the pool as they are).
    """

    words: str
    now: int
    since: int | None
    then: int | None


@dataclass(frozen=True)
class Since:
    """How many rows of any kind were entered, corrected and deleted after the back-up was made."""

    entered: int
    corrected: int
    deleted: int


@dataclass(frozen=True)
class Preview:
    """`keepers` can sign in after it, by name; `own_password`: that of whoever asks is the same, None: no account.

    `since`: None of a back-up of another pool.
    """

    made: datetime
    is_of_this_pool: bool
    kinds: list[Kind]
    since: Since | None
    logged_now: date | None
    logged_then: date | None
    files_going: str
    notices: list[str]
    keepers: list[str]
    own_password: bool | None


def look_into(path, *, person):
    """The Preview of a back-up. Nothing of the pool is changed, and nobody is kept from it.

    ValidationError where it would be refused. Photos and sweep files in it are checked when it is restored.
    """
    with opened_to_restore(path) as archive:
        then = _read_once(path, path.stat().st_mtime_ns, person.username)
        return _preview(archive, then, _read(person.username))


@lru_cache(maxsize=4)
def _read_once(path, written_at_ns, username):
    """What a back-up holds; to bring its database up to date takes seconds, and a wrong password asks for it again."""
    engine = engine_in_use()
    with (
        opened_to_restore(path) as archive,
        unpacked(archive, timezone.now(), only_database=True) as folder,
        engine.looked_into(folder / archive.manifest.database_member, archive.manifest.migrations) as built,
        engine.inside(built),
    ):
        return _read(username)


@dataclass(frozen=True)
class _Read:
    rows: dict
    uid: object
    held: Held
    keepers: list
    password: str | None


def _read(username):
    own = ways_in().get(username)
    password = own.password if own and own.is_active else None
    return _Read(rows_in_use(), Pool.objects.get().uid, held_now(), keepers_who_can_sign_in(), password)


def _preview(archive, then, here):
    made, same = archive.manifest.made, then.uid == here.uid
    going = what_goes(archive, damaged=False, replace=True)
    return Preview(
        made=timezone.localtime(made),
        is_of_this_pool=same,
        kinds=[*_records(then.rows, here.rows, made if same else None), *_files(archive)],
        since=_since(made) if same else None,
        logged_now=here.held.last_logged_on,
        logged_then=then.held.last_logged_on,
        files_going=listed_files(going.files),
        notices=list(lacking(archive)),
        keepers=then.keepers,
        own_password=None if then.password is None else then.password == here.password,
    )


def _records(then, here, made):
    for words, model in RECORDS.items():
        counts = here.get(model._meta.db_table, 0), then.get(model._meta.db_table, 0)
        if any(counts):
            yield Kind(words, counts[0], made and _entered_since(model, made), counts[1])


def _entered_since(model, made):
    field = next((name for name in ("recorded_at", "date_joined") if _has(model, name)), None)
    return model._base_manager.filter(**{f"{field}__gt": made}).count() if field else None


def _since(made):
    models = [model for app in ("fleet", "inspections") for model in apps.get_app_config(app).get_models()]
    written = [model for model in (User, *models) if model not in NO_RECORDS and not hasattr(model, "instance_type")]
    tracked = [model.history for model in written if hasattr(model, "history")]
    return Since(
        entered=sum(filter(None, (_entered_since(model, made) for model in written))),
        corrected=sum(history.filter(history_date__gt=made, history_type="~").count() for history in tracked),
        deleted=sum(history.filter(history_date__gt=made, history_type="-").count() for history in tracked),
    )


def _has(model, name):
    return any(field.name == name for field in model._meta.fields)


def _files(archive):
    here, leaving = list(pool_files()), archive.manifest.leaving
    for words, is_it in ((PHOTO_WORDS, is_photo), (OTHER_FILES, lambda name: not is_photo(name))):
        left = words == PHOTO_WORDS and PHOTOS in leaving
        kind = Kind(words, sum(map(is_it, here)), None, None if left else sum(map(is_it, archive.kept)))
        if kind.now or kind.then:
            yield kind
