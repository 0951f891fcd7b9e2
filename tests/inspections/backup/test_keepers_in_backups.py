"""A back-up in which no keeper can sign in is refused; one without any account is that of a new pool."""

import pytest
from backups import AT, refusal_of, restore
from django.contrib.auth.models import User
from factories import make_mat, make_person

from fleet.models import Mat
from inspections.backup.making import make_backup

pytestmark = pytest.mark.django_db(transaction=True)


def backed_up(path):
    make_backup(path, now=AT)
    return path


@pytest.mark.parametrize(
    "change",
    [
        lambda keeper: keeper.groups.clear(),
        lambda keeper: User.objects.update(is_active=False),
        lambda keeper: User.objects.update(password="!unusable"),
        lambda keeper: User.objects.update(password="of no kind"),
    ],
    ids=["in no role", "deactivated", "without password", "password of no kind"],
)
def test_without_a_keeper_who_can_sign_in_it_is_refused(keeper, bench_hand, tmp_path, change):
    change(keeper)
    made = backed_up(tmp_path / "pool.zip")
    refusal = refusal_of(made, replace=True)
    assert refusal == "In this back-up no keeper can sign in, so nobody could keep the pool. Nothing was restored."
    assert User.objects.count() == 2


def test_an_account_that_may_do_everything_is_a_keeper(tmp_path):
    make_person("owner", role="visitor")
    User.objects.update(is_superuser=True)
    restore(backed_up(tmp_path / "pool.zip"), replace=True)
    assert User.objects.get().username == "owner"


def test_without_any_account_it_is_restored(tmp_path):
    make_mat("M-001")
    restore(backed_up(tmp_path / "pool.zip"), replace=True)
    assert Mat.objects.count() == 1
