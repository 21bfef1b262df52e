//! The README's own commands, run as they stand, one after the other, in a shop of their own.

use std::process::Command;

use crate::prelude::*;

/// The lines of the README's shell blocks that call the program and end by themselves.
fn commands(readme: &str) -> Vec<String> {
    let mut inside = false;
    let mut commands = Vec::new();
    for line in readme.lines() {
        if line.starts_with("```") {
            inside = line == "```sh";
            continue;
        }
        let command = line.split("  #").next().unwrap_or("").trim();
        // Whether anything can ring depends on the machine; the ways have tests of their own.
        if inside && command.starts_with("spyhole ") && command != "spyhole bell test" {
            commands.push(command.to_owned());
        }
    }
    commands
}

#[test]
fn law_every_command_of_the_readme_works() {
    let root = Path::new(env!("CARGO_MANIFEST_DIR"));
    let readme = fs::read_to_string(root.join("README.md")).unwrap();
    let commands = commands(&readme);
    assert!(commands.len() >= 15, "{commands:#?}");
    let folder = tempfile::tempdir().unwrap();
    let schedules = folder.path().join("schedules");
    fs::create_dir(&schedules).unwrap();
    for file in fs::read_dir(root.join("schedules")).unwrap() {
        let file = file.unwrap();
        fs::copy(file.path(), schedules.join(file.file_name())).unwrap();
    }
    let week = root.join("tests/data/plan/tiny2.json");
    fs::copy(week, folder.path().join("week.json")).unwrap();
    let program = Path::new(env!("CARGO_BIN_EXE_spyhole")).parent().unwrap();
    let path = format!("{}:{}", program.display(), std::env::var("PATH").unwrap());
    for command in commands {
        let run = Command::new("sh")
            .args(["-c", &command])
            .current_dir(folder.path())
            .env("PATH", &path)
            .env("SPYHOLE_SHOP", folder.path().join("shop.db"))
            .output()
            .unwrap();
        let error = String::from_utf8_lossy(&run.stderr);
        assert!(run.status.success(), "{command}\n{error}");
    }
}
