import sys
from getpass import getpass

from django.conf import settings
from django.core.exceptions import ValidationError
from django.utils import timezone

from fleet.services.people import add_first_keeper
from inspections.backup.clock import clock_warning
from inspections.backup.database_startup import open_pool
from inspections.demo.services import is_demo_pool
from inspections.management.demo_accounts import switch_off_if_reached
from inspections.management.first_account import offer_first_account, who_is_missing
from inspections.management.lan import own_addresses, own_names, qr_code
from inspections.management.pool_command import PoolCommand
from inspections.management.serving import HERE_ONLY, open_server, serve, where_to_open
from inspections.management.starting import one_start_at_a_time

EVERYWHERE = "0.0.0.0"


class Command(PoolCommand):
    help = "Serve your own pool: set the database up or bring it up to date, make the first account, and serve."
    # the database is looked at here, with sentences of our own
    requires_system_checks = []

    def add_arguments(self, parser):
        parser.add_argument("--port", type=int, default=8000, help="port to listen on (default: 8000)")
        parser.add_argument("--lan", action="store_true", help="serve phones and other computers in your network too")

    def handle(self, *, port, lan, **options):
        addresses = own_addresses() if lan else []
        settings.ALLOWED_HOSTS = [*settings.ALLOWED_HOSTS, *addresses, *(own_names() if lan else [])]
        settings.IS_REACHED_BY_OTHERS |= lan
        if addresses and not settings.POOL_ADDRESS:
            settings.POOL_ADDRESS = f"http://{addresses[0]}:{port}"
        server = open_server(port, EVERYWHERE if lan else HERE_ONLY)
        with one_start_at_a_time():
            open_pool(now=timezone.localtime(), notify=self.say)
        if wrong_clock := clock_warning(timezone.localtime()):
            self.say(wrong_clock)
        here = f"http://{HERE_ONLY}:{port}/"
        switch_off_if_reached(self.say)
        offer_first_account(self.say, here, from_network=lan, made_here=self.made_here)
        if is_demo_pool():
            self.say("This is the demo pool. For your own, set HALFPOWER_DATA to another folder.")
        self.say(f"\n{where_to_open(here)}")
        if lan:
            self.say_phone(addresses, port)
        self.say("Ctrl-C stops the server.")
        serve(server)

    def made_here(self):
        """Asked in the terminal where somebody sits at it."""
        if not sys.stdin.isatty():
            return False
        self.say(f"{who_is_missing()} here.")
        while True:
            try:
                name = input("Name (leave empty to do this in the browser): ").strip()
                if not name:
                    return False
                password = getpass("Password, at least 8 characters: ")
                if password != getpass("Repeat the password: "):
                    self.say("The passwords differ. Try again.")
                    continue
                add_first_keeper(name, password)
            except ValidationError as error:
                self.say(" ".join(error.messages))
                continue
            except EOFError:
                return False
            self.say(f"{name} can sign in now.")
            return True

    def say_phone(self, addresses, port):
        if not addresses:
            self.say("No network address was found: connect this computer to your network and start again.")
            return
        phone = f"{settings.POOL_ADDRESS}/"
        self.say(f"On a phone in the same network: {phone}")
        for other in (f"http://{address}:{port}/" for address in addresses):
            if other != phone:
                self.say(f"  or, if that does not answer: {other}")
        self.say(qr_code(phone, getattr(self.stdout, "encoding", None)))
        self.say("The connection is not encrypted: use this only in a network that you trust.")

    def say(self, line):
        # at once, also into a pipe: the server starts right after
        self.stdout.write(line)
        self.stdout.flush()
