//! Completions and manual pages.

mod common;

use common::{Folder, dipsift};
use serde_json::json;
use std::path::Path;
use std::process::{Command, Stdio};

/// What bash offers for the last of these words, by the script itself.
fn offered(script: &str, words: &[&str]) -> Vec<String> {
    let quoted: Vec<String> = words.iter().map(|word| format!("'{word}'")).collect();
    let last = words.len() - 1;
    // The function that the script registers is called as bash would call it.
    let program = format!(
        "source '{script}'; COMP_WORDS=({}); COMP_CWORD={last}; \
         function=$(complete -p dipsift | sed 's/.*-F \\([^ ]*\\).*/\\1/'); \
         \"$function\" dipsift '{}' '{}'; printf '%s\\n' \"${{COMPREPLY[@]}}\"",
        quoted.join(" "),
        words[last],
        words[last - 1],
    );
    let output = Command::new("bash")
        .args(["--norc", "--noprofile", "-c", &program])
        .stdin(Stdio::null())
        .output()
        .expect("bash runs");
    let errors = String::from_utf8_lossy(&output.stderr);
    assert!(output.status.success() && errors.is_empty(), "{words:?}: {errors}");
    String::from_utf8_lossy(&output.stdout).lines().map(String::from).collect()
}

#[test]
fn bash_completes_commands_options_and_their_values() {
    let folder = Folder::new();
    let printed = dipsift(&["completions", "bash"]);
    assert_eq!(printed.status, 0);
    let script = folder.file("dipsift.bash", &printed.out);
    let checked = Command::new("bash").args(["-n", &script]).output().expect("bash runs");
    assert!(checked.status.success(), "{}", String::from_utf8_lossy(&checked.stderr));
    assert!(checked.stderr.is_empty());
    assert_eq!(offered(&script, &["dipsift", "scr"]), ["screen"]);
    assert_eq!(offered(&script, &["dipsift", "ledger", "exp"]), ["export"]);
    assert_eq!(offered(&script, &["dipsift", "check", "7400", "--ret"]), ["--retention"]);
    assert_eq!(offered(&script, &["dipsift", "parts", "--color", "al"]), ["always"]);
    assert_eq!(offered(&script, &["dipsift", "completions", "po"]), ["powershell"]);
    let commands = offered(&script, &["dipsift", ""]);
    for command in ["check", "lot", "settings", "manuals"] {
        assert!(commands.iter().any(|offer| offer == command), "{command}: {commands:?}");
    }
}

#[test]
fn each_shell_has_a_script_that_knows_the_commands() {
    for shell in ["bash", "zsh", "fish", "powershell", "elvish"] {
        let script = dipsift(&["completions", shell]);
        assert_eq!(script.status, 0, "{shell}");
        for word in ["screen", "selftest", "coverage", "retention"] {
            assert!(script.out.contains(word), "{shell}: {word}");
        }
        let object = dipsift(&["completions", shell, "--json"]).json();
        assert_eq!(object["shell"], json!(shell));
        assert_eq!(object["script"], json!(script.out), "{shell}");
    }
    let unknown = dipsift(&["completions", "sh"]);
    assert_eq!(unknown.status, 2);
    assert!(unknown.err.contains("possible values"), "{}", unknown.err);
}

/// The commands and subcommands that the help of a command lists.
fn listed(path: &[&str]) -> Vec<String> {
    let help = dipsift(&[path, &["-h"]].concat()).out;
    help.lines()
        .skip_while(|line| *line != "Commands:")
        .skip(1)
        .take_while(|line| !line.is_empty())
        .filter(|line| line.starts_with("  ") && !line.starts_with("    "))
        .filter_map(|line| line.split_whitespace().next().map(String::from))
        .collect()
}

#[test]
fn every_command_has_its_page() {
    let folder = Folder::new();
    let pages = format!("{}/share/man1", folder.path());
    let written = dipsift(&["manuals", &pages, "--json"]);
    assert_eq!(written.status, 0, "{}", written.page());
    let mut expected = vec!["dipsift.1".to_string()];
    for command in listed(&[]) {
        expected.push(format!("dipsift-{command}.1"));
        for inner in listed(&[&command]) {
            expected.push(format!("dipsift-{command}-{inner}.1"));
        }
    }
    assert!(expected.contains(&"dipsift-ledger-export.1".to_string()), "{expected:?}");
    let mut names: Vec<String> =
        serde_json::from_value(written.json()["pages"].clone()).expect("a list of names");
    names.sort();
    expected.sort();
    assert_eq!(names, expected);
    for name in &names {
        let page = std::fs::read_to_string(format!("{pages}/{name}")).expect(name);
        structure(name, &page);
        renders(&format!("{pages}/{name}"));
    }
}

/// What a page must have (the man macros of groff, groff_man(7)): its title first, then a name with
/// a description behind ` - `, and each option that the help has.
fn structure(name: &str, page: &str) {
    let title = name.trim_end_matches(".1").replace('-', "\\-");
    let lines: Vec<&str> = page.lines().filter(|line| !line.starts_with(".ie")).collect();
    let heading = lines.iter().find(|line| line.starts_with(".TH")).expect("a title");
    assert!(heading.replace('-', "\\-").replace("\\\\-", "\\-").contains(&title), "{heading}");
    let after = lines.iter().position(|line| line.trim_end() == ".SH NAME").expect("a name");
    assert!(lines[after + 1].contains(" \\- "), "{name}: {}", lines[after + 1]);
    let path: Vec<&str> = name.trim_end_matches(".1").split('-').skip(1).collect();
    let help = dipsift(&[&path[..], &["-h"]].concat()).out;
    let options: Vec<&str> = help
        .lines()
        .map(str::trim_start)
        .filter_map(|line| line.strip_prefix("-h, ").or(Some(line)))
        .filter(|line| line.starts_with("--"))
        .filter_map(|line| line.split([' ', ',']).next())
        .collect();
    assert!(options.contains(&"--json"), "{name}: {options:?}");
    for option in options {
        assert!(page.contains(&option.replace('-', "\\-")), "{name} does not name {option}");
    }
}

/// Lets what there is here read a page, and demands that it has nothing to say. Without any of them
/// the structure has been looked at.
fn renders(page: &str) {
    let exists = |tool: &str| {
        std::env::var_os("PATH").is_some_and(|path| {
            std::env::split_paths(&path).any(|folder| Path::new(&folder).join(tool).exists())
        })
    };
    let tools: [(&str, &[&str]); 3] = [
        ("groff", &["-man", "-Tutf8", "-ww", "-z"]),
        ("man", &["--warnings=w", "-l"]),
        ("mandoc", &["-T", "lint", "-W", "warning"]),
    ];
    for (tool, args) in tools.into_iter().filter(|(tool, _)| exists(tool)) {
        let output = Command::new(tool)
            .args(args)
            .arg(page)
            .env("MANPAGER", "cat")
            .env("MANWIDTH", "80")
            .stdin(Stdio::null())
            .output()
            .expect("it runs");
        let said = String::from_utf8_lossy(&output.stderr).into_owned();
        assert!(output.status.success() && said.is_empty(), "{tool} {page}: {said}");
    }
}

#[test]
fn a_folder_that_cannot_be_made_is_one_clear_error() {
    let folder = Folder::new();
    let file = folder.file("taken", "");
    let ran = dipsift(&["manuals", &format!("{file}/man1")]);
    assert_eq!(ran.status, 2);
    assert!(ran.out.is_empty() && ran.err.lines().count() == 1, "{}", ran.page());
    assert!(ran.err.starts_with("dipsift: failed to make the folder "), "{}", ran.err);
}
