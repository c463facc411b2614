"""The HTTP service: upload a STEP file, get a job, and from it features, plan and the other documents."""
