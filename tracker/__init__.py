"""The job: records, storage, decisions, pages, reports and the command line."""
