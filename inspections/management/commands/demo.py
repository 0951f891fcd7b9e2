from django.utils import timezone

from inspections.backup.database_startup import open_pool
from inspections.demo.accounts import sign_ins
from inspections.demo.names import POOL_NAME
from inspections.demo.services import fill_demo_pool, is_demo_pool
from inspections.management.demo_accounts import switch_off_if_reached, switch_on_if_not_reached
from inspections.management.first_account import offer_first_account
from inspections.management.pool_command import PoolCommand
from inspections.management.serving import HERE_ONLY, open_server, serve, where_to_open
from inspections.management.starting import one_start_at_a_time


class Command(PoolCommand):
    help = "Set everything up, fill the demo pool once, print address and sign-ins, and serve."

    def add_arguments(self, parser):
        parser.add_argument("--port", type=int, default=8000, help="port to listen on (default: 8000)")
        parser.add_argument("--no-serve", action="store_true", help="set up and fill, but do not serve")

    def handle(self, *, port, no_serve, **options):
        with one_start_at_a_time():
            open_pool(now=timezone.localtime(), notify=self.say)
            self.fill(timezone.localdate())
        self.say_sign_ins()
        if no_serve:
            return
        server, here = open_server(port), f"http://{HERE_ONLY}:{port}/"
        offer_first_account(self.say, here)
        self.say(f"\n{where_to_open(here)} Ctrl-C stops the server.")
        serve(server)

    def fill(self, on):
        if fill_demo_pool(on):
            self.say(f"{POOL_NAME}: invented, filled as of {on}.")
        elif is_demo_pool():
            self.say(f"{POOL_NAME}: already there, and not changed.")
        else:
            self.say("This database holds another pool. Nothing was added, and no demo account was created.")
            self.say("For the demo, set HALFPOWER_DATA to another folder.")

    def say_sign_ins(self):
        switch_off_if_reached(self.say)
        if not is_demo_pool():
            return
        switch_on_if_not_reached(self.say)
        if not (found := sign_ins()):
            return
        self.say("\nSign in as     password              role")
        for account, unchanged in found:
            self.say(f"  {account.name:12} {account.password if unchanged else 'the one you set':20}  {account.role}")

    def say(self, line):
        # at once, also into a pipe: the server starts right after
        self.stdout.write(line)
        self.stdout.flush()
