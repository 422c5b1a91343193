from django.db import migrations, models


class Migration(migrations.Migration):
    initial = True
    dependencies = []
    operations = [
        migrations.CreateModel(
            name="Tap",
            fields=[
                ("key", models.UUIDField(primary_key=True, serialize=False)),
                ("unit", models.CharField(max_length=400)),
                ("taken", models.DateTimeField(help_text="When it was first taken in.")),
            ],
        ),
    ]
