//! Every seed keeps the promises of its target; no fuzzer is needed for that.

use std::fs;
use std::path::Path;

#[test]
fn seeds_keep_the_promises_of_their_targets() {
    type Check = fn(&[u8]);
    let targets: [(&str, Check); 9] = [
        ("begin", crate::begin::check),
        ("capture", crate::capture::check),
        ("change", crate::change::check),
        ("counter", crate::counter::check),
        ("edit", crate::edit::check),
        ("job", crate::job::check),
        ("keep", crate::keep::check),
        ("quantity", crate::quantity::check),
        ("readings", crate::readings::check),
    ];
    let seeds = Path::new(env!("CARGO_MANIFEST_DIR")).join("seeds");
    let mut named: Vec<String> = fs::read_dir(&seeds)
        .expect("seeds")
        .map(|entry| {
            entry
                .expect("an entry")
                .file_name()
                .to_string_lossy()
                .into_owned()
        })
        .collect();
    named.sort();
    assert_eq!(
        named,
        targets.map(|(name, _)| name),
        "a folder of seeds for each target"
    );
    for (name, check) in targets {
        for entry in fs::read_dir(seeds.join(name)).expect("seeds of a target") {
            let path = entry.expect("an entry").path();
            println!("{}", path.display());
            check(&fs::read(&path).expect("a seed"));
        }
    }
}
