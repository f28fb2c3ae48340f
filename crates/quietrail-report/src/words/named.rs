//! Names that the job has, where one was typed that it does not have.

/// Names one under the other: some have commas of their own.
pub fn each_on_a_line<S: AsRef<str>>(names: &[S]) -> String {
    let each = names.iter().map(|name| format!("\n  {}", name.as_ref()));
    each.collect()
}

/// The names that somebody may have meant: those that hold what was typed, else the nearest.
pub fn meant(typed: &str, known: &[String]) -> Vec<String> {
    let small = typed.trim().to_lowercase();
    let holds = |name: &&String| !small.is_empty() && name.to_lowercase().contains(&small);
    let holding: Vec<String> = known.iter().filter(holds).cloned().collect();
    if holding.is_empty() {
        let near = quietrail_job::nearest(typed, known.iter().map(String::as_str));
        return near.into_iter().collect();
    }
    holding
}
