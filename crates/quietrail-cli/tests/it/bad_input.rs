//! Input that is wrong, empty, huge or extreme: a clear message and status 2, or an answer; nothing overwritten.

use super::bench::{Bench, RAIL, Ran, rail};
use std::fs;

/// A job that is refused, with these words in the message.
#[track_caller]
fn refused(job: impl AsRef<[u8]>, words: &[&str]) {
    let bench = Bench::with(job);
    let before = bench.files();
    let ran = bench.run(&["prove", "."]);
    assert_eq!(ran.status, 2, "{ran:?}");
    assert_eq!(ran.out, "");
    for word in words {
        assert!(ran.err.contains(word), "{word:?} is not in\n{}", ran.err);
    }
    assert_eq!(bench.files(), before);
}

/// A job that gets an answer, with this status.
#[track_caller]
fn answered(job: impl AsRef<[u8]>, status: i32) -> Ran {
    let bench = Bench::with(job);
    let before = bench.files();
    let ran = bench.run(&["prove", "."]);
    assert_eq!(ran.status, status, "{ran:?}");
    assert_eq!(bench.files(), before);
    ran
}

#[test]
fn files_that_are_no_job() {
    refused("", &["job.toml", "empty"]);
    refused(b"\x7fELF\x02\x01\0\0\xff\xfe\0\x01", &["job.toml", "text"]);
    refused(vec![b'#'; 10_000_000], &["job.toml", "at most 500000"]);
    refused(
        "format = 1\n[mains]\nvoltage = 230 V\n",
        &["job.toml:3", "not TOML"],
    );
    refused("format = 1\n[mains\n", &["job.toml", "unclosed table"]);
    refused(
        rail("format = 1", "format = 2\nstrange = 1"),
        &["newer quietrail"],
    );
}

#[test]
fn byte_order_mark_and_windows_line_ends_are_accepted() {
    let text = format!("\u{feff}{}", RAIL.replace('\n', "\r\n"));
    answered(text, 0);
}

#[test]
fn tables_written_twice() {
    let twice = format!("{RAIL}[capacitor.C1]\nat = \"raw\"\nvalue = \"1 µF\"\n");
    refused(twice, &["C1"]);
}

#[test]
fn values_that_no_part_has() {
    for (line, instead, word) in [
        ("value = \"4700 µF\"", "value = \"0 µF\"", "0"),
        ("value = \"4700 µF\"", "value = \"-4700 µF\"", "-4700"),
        ("resistance = \"0.6 Ω\"", "resistance = \"-0.6 Ω\"", "-0.6"),
        ("esr = \"40 mΩ\"", "esr = \"-40 mΩ\"", "-40"),
        ("voltage = \"230 V ±10 %\"", "voltage = \"0 V\"", "0 V"),
        (
            "voltage = \"230 V ±10 %\"",
            "voltage = \"253 V .. 207 V\"",
            "253",
        ),
    ] {
        refused(rail(line, instead), &["job.toml:", word]);
    }
    let coil = "[inductor.L1]\nbetween = [\"raw\", \"out\"]\nvalue = \"0 mH\"\nresistance = \"1 Ω\"\n[load.lamp]";
    refused(rail("[load.lamp]", coil), &["0"]);
    let resistor = "[resistor.R1]\nat = \"raw\"\nvalue = \"-1 kΩ\"\n[load.lamp]";
    refused(rail("[load.lamp]", resistor), &["-1"]);
}

#[test]
fn values_at_the_edge_are_computed() {
    answered(rail("esr = \"40 mΩ\"", "esr = \"0 Ω\""), 0);
    let bled = "[resistor.R1]\nat = \"raw\"\nvalue = \"2k2\"\n[load.lamp]";
    let unloaded = |text: &str| text.replace("on = \"0.4 A\"", "on = \"0 A\"");
    answered(unloaded(&rail("[load.lamp]", bled)), 0);
    // With nothing at all across it only leakage empties the reservoir: it stands at the crest.
    answered(unloaded(RAIL), 0);
}

#[test]
fn more_load_than_the_winding_can_give() {
    let ran = answered(rail("on = \"0.4 A\"", "on = \"25 A\""), 1);
    assert!(ran.out.contains("lamp supplied"), "{}", ran.out);
    let told = "lamp, on: it asks for 25.00 A and the supply can give ";
    assert!(ran.out.contains(told), "{}", ran.out);
}

#[test]
fn a_rating_below_the_working_value_is_a_finding() {
    let rated = "esr = \"40 mΩ\"\nrated = { volts = \"16 V\" }";
    let ran = answered(rail("esr = \"40 mΩ\"", rated), 1);
    assert!(ran.out.contains("FAILS"), "{}", ran.out);
    assert!(ran.out.contains("C1 voltage fails by"), "{}", ran.out);
}

#[test]
fn folders_and_files_that_are_not_there() {
    let bench = Bench::new();
    for (of, words) in [
        ("nowhere", "there is no such file or folder"),
        ("nowhere/job.toml", "there is no such file or folder"),
        (".", "there is no such file or folder"),
    ] {
        let ran = bench.run(&["prove", of]);
        assert_eq!(ran.status, 2, "{ran:?}");
        assert!(
            ran.err.starts_with("quietrail: ") && ran.err.contains(words),
            "{ran:?}"
        );
    }
    fs::create_dir(bench.path("job.toml")).unwrap();
    let ran = bench.run(&["prove", "."]);
    assert_eq!(ran.status, 2, "{ran:?}");
    assert!(
        ran.err.contains("a folder, where a file was expected"),
        "{ran:?}"
    );
    assert!(bench.files().is_empty());
}

/// Whoever may read everything sees no refusal: then there is nothing to test.
#[cfg(unix)]
#[test]
fn files_that_may_not_be_read() {
    use std::os::unix::fs::PermissionsExt;
    let bench = Bench::with(RAIL);
    let path = bench.path("job.toml");
    fs::set_permissions(&path, fs::Permissions::from_mode(0o000)).unwrap();
    if fs::read(&path).is_ok() {
        return;
    }
    let ran = bench.run(&["prove", "."]);
    assert_eq!(ran.status, 2, "{ran:?}");
    assert!(ran.err.contains("no permission"), "{ran:?}");
}

#[test]
fn a_file_where_a_folder_should_be_made() {
    let bench = Bench::new();
    fs::write(bench.path("taken"), "mine").unwrap();
    for arguments in [
        ["demo", "taken"].as_slice(),
        &["new", "taken", "--defaults"],
    ] {
        let ran = bench.run(arguments);
        assert_eq!(ran.status, 2, "{ran:?}");
        assert!(ran.err.contains("taken"), "{ran:?}");
    }
    assert_eq!(bench.read("taken"), "mine");
}
