"""A recorded set of invented attachments of real thick glass, traced exactly."""
