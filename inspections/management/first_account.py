"""What a terminal says where no keeper can sign in: where the first account is made, and with which code."""

from fleet.selectors.people import no_keeper_can_sign_in, nobody_has_an_account
from fleet.services.first_code import ask_for_code


def offer_first_account(say, here, *, from_network=False, made_here=lambda: False):
    """From now on the page asks for a code. Where a keeper is missing it is said, unless one is `made_here`."""

    def say_code(code):
        say(f"The page asks for this code: {code}")

    # also where there is a keeper now: the page then never opens without it
    code = ask_for_code(say_code, from_network)
    if not no_keeper_can_sign_in() or made_here():
        return
    where = "or, on a phone, at the address below" if from_network else "on this computer"
    say(f"{who_is_missing()} at {here}first-account/ {where}.")
    code.show()


def who_is_missing():
    if nobody_has_an_account():
        return "Nobody has an account yet. Make the first one"
    return "No keeper can sign in. Make an account for one"
