"""Routes of one match: details, record, score draft, findings, reports."""
