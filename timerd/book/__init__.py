"""The durable record: what each sheet was given, appended and never changed."""
