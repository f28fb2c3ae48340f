//! The drawing is checked for what must never happen to it, whatever the job.
