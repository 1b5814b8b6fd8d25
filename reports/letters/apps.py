from django.apps import AppConfig


class LettersConfig(AppConfig):
    name = "reports.letters"
    label = "letters"
    default_auto_field = "django.db.models.BigAutoField"

    def ready(self):
        # A referral that is sent asks for its letter in the same act; that room does not know of letters.
        from exams.followup.services import on_referral_sent
        from reports.letters.services import write_letter

        on_referral_sent(write_letter)
