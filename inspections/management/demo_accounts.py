"""The accounts of the demo, whose passwords everybody can read: off as soon as other computers reach the pool."""

from django.conf import settings

from inspections.demo.accounts import switch_off_accounts, switch_on_accounts

SWITCHED_OFF = (
    "Everybody can read the passwords of the demo, and other computers can reach this pool. So these accounts are "
    "switched off: {names}. python3 manage.py demo switches them on again, where only this computer reaches the pool."
)
SWITCHED_ON = "These accounts are switched on again, for this computer only: {names}."


def switch_off_if_reached(say):
    if settings.IS_REACHED_BY_OTHERS and (names := switch_off_accounts()):
        say(SWITCHED_OFF.format(names=", ".join(names)))


def switch_on_if_not_reached(say):
    if not settings.IS_REACHED_BY_OTHERS and (names := switch_on_accounts()):
        say(SWITCHED_ON.format(names=", ".join(names)))
