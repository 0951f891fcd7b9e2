from django.apps import AppConfig
from django.db.models.signals import post_migrate


class FleetConfig(AppConfig):
    name = "fleet"
    verbose_name = "Fleet"

    def ready(self):
        from .access import make_roles
        from .forms.error_text import use_plain_sentences
        from .models.pool import name_the_pool
        from .models.row_numbers import keep_numbers

        use_plain_sentences()
        post_migrate.connect(make_roles, sender=self, dispatch_uid="fleet.make_roles")
        post_migrate.connect(name_the_pool, sender=self, dispatch_uid="fleet.name_the_pool")
        post_migrate.connect(keep_numbers, sender=self, dispatch_uid="fleet.keep_numbers")
