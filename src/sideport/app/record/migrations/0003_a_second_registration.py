from django.db import migrations, models


class Migration(migrations.Migration):
    dependencies = [("record", "0002_nothing_is_overwritten")]

    operations = [
        migrations.AddField(
            model_name="person",
            name="same_as",
            field=models.CharField(blank=True, help_text="Key of the person registered before.", max_length=32),
        ),
    ]
