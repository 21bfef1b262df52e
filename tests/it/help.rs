//! Help, completions and manual pages: generated from one definition, whole and readable.

use crate::program::spyhole;

/// The commands a help page lists, by name.
fn commands(help: &str) -> Vec<String> {
    let list = help.split("\nCommands:\n").nth(1).unwrap_or("");
    list.lines()
        .take_while(|line| !line.trim().is_empty())
        .filter(|line| line.starts_with("  ") && !line.starts_with("   "))
        .filter_map(|line| line.split_whitespace().next())
        .map(str::to_owned)
        .filter(|name| name != "help")
        .collect()
}

/// Walks every command and subcommand, giving each one's path and help page.
fn walk(path: &mut Vec<String>, visit: &mut dyn FnMut(&[String], &str)) {
    let mut args: Vec<&str> = path.iter().map(String::as_str).collect();
    args.push("--help");
    let run = spyhole(&args);
    assert_eq!(run.code, 0, "{path:?} has no help: {}", run.err);
    visit(path, &run.out);
    for command in commands(&run.out) {
        path.push(command);
        walk(path, visit);
        path.pop();
    }
}

#[test]
fn law_every_help_page_says_what_it_is_for() {
    let mut pages = 0;
    walk(&mut Vec::new(), &mut |path, help| {
        pages += 1;
        let first = help.lines().next().unwrap_or("");
        assert!(
            first.len() >= 10 && first.starts_with(char::is_uppercase),
            "{path:?} opens its help with {first:?}"
        );
        // An option or argument without a text shows as a line with nothing but its name.
        let lines: Vec<&str> = help.lines().collect();
        for pair in lines.windows(2) {
            let names_one = pair[0].trim_start().starts_with(['-', '<'])
                && !pair[0].trim_start().starts_with("- ")
                && pair[0].starts_with("  ")
                && !pair[0].trim().contains("  ");
            assert!(
                !names_one || !pair[1].trim().is_empty(),
                "{path:?}: {:?} is not explained",
                pair[0].trim()
            );
        }
    });
    assert!(pages > 3, "only {pages} pages were found");
}

#[test]
fn law_completions_know_the_commands() {
    for shell in ["bash", "zsh", "fish", "elvish", "powershell"] {
        let run = spyhole(&["completions", shell]);
        assert_eq!(run.code, 0, "{shell}: {}", run.err);
        for command in commands(&spyhole(&["--help"]).out) {
            assert!(run.out.contains(&command), "{shell} does not complete {command}");
        }
    }
}

#[test]
fn law_every_command_has_a_manual_page() {
    let folder = tempfile::tempdir().unwrap();
    let run = spyhole(&["manual", folder.path().to_str().unwrap()]);
    assert_eq!(run.code, 0, "{}", run.err);
    walk(&mut Vec::new(), &mut |path, _| {
        let mut name = String::from("spyhole");
        for part in path {
            name.push('-');
            name.push_str(part);
        }
        let page = folder.path().join(format!("{name}.1"));
        let text = std::fs::read_to_string(&page).unwrap_or_default();
        assert!(text.contains(".SH NAME"), "no manual page {name}.1");
    });
    let mine = folder.path().join("spyhole.1");
    std::fs::write(&mine, "mine").unwrap();
    let again = spyhole(&["manual", folder.path().to_str().unwrap()]);
    assert_eq!((again.code, again.err.contains("--replace")), (2, true), "{}", again.err);
    let spoiled = spyhole(&["manual", folder.path().to_str().unwrap(), "--replace"]);
    assert_eq!(spoiled.code, 0, "{}", spoiled.err);
    assert_ne!(std::fs::read_to_string(&mine).unwrap(), "mine");
}
