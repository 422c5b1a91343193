from django.db import migrations, models


class Migration(migrations.Migration):
    dependencies = [("record", "0003_a_second_registration")]

    operations = [
        migrations.AddIndex(
            model_name="person", index=models.Index(fields=["unit", "same_as", "person_id"], name="record_person_same")
        ),
        migrations.AddIndex(
            model_name="person",
            index=models.Index(fields=["unit", "folded", "person_id", "phone", "key"], name="record_person_search"),
        ),
        migrations.AddIndex(model_name="visit", index=models.Index(fields=["unit", "kind"], name="record_visit_kind")),
    ]
