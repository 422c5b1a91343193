from django.db import migrations, models


class Migration(migrations.Migration):
    initial = True

    dependencies = []

    operations = [
        migrations.CreateModel(
            name="FolderImport",
            fields=[
                ("id", models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name="ID")),
                ("unit", models.CharField(max_length=400)),
                ("at", models.DateTimeField()),
                ("by", models.CharField(max_length=400)),
                ("files", models.JSONField(help_text="Names of the files.")),
                ("day", models.DateField(help_text="The operating day; empty when it was not known.", null=True)),
                ("added", models.JSONField(help_text="Entries by kind.")),
                ("boxes_not_listed", models.PositiveIntegerField(default=0)),
                (
                    "rejected",
                    models.JSONField(
                        help_text="File, sheet, row, column, found, why, accepted of all that was set aside."
                    ),
                ),
                ("notes", models.JSONField()),
                (
                    "closed_by",
                    models.CharField(blank=True, help_text="Who said that all of it is mended.", max_length=400),
                ),
                ("closed_at", models.DateTimeField(null=True)),
            ],
            options={
                "ordering": ("-at", "-pk"),
                "indexes": [models.Index(fields=["unit", "closed_by"], name="patients_import_open")],
            },
        ),
    ]
