//! The list of commands in `pintle --help`, grouped by where they are used, in the order of work.

use clap::Command;

/// Where commands are used, and which.
const GROUPS: [(&str, &[&str]); 5] = [
    (
        "At the car",
        &["ports", "probe", "watch", "record", "codes"],
    ),
    ("At the desk", &["diagnose", "bench", "compare", "replay"]),
    ("A visit", &["job", "report"]),
    ("Files", &["inspect", "import", "export"]),
    ("To try it out", &["demo"]),
];

/// Cells for a command's name.
const GAP: usize = 10;

/// The program's command with its subcommands listed in groups.
pub(super) fn with_groups(command: Command) -> Command {
    let mut list = String::new();
    for (heading, names) in GROUPS {
        list += &format!("{heading}:\n");
        for name in names {
            let about = command.find_subcommand(name).and_then(Command::get_about);
            let about = about.map(ToString::to_string).unwrap_or_default();
            list += &format!("  {name:<GAP$}{about}\n");
        }
        list.push('\n');
    }
    command.help_template(format!(
        "{{about-with-newline}}\n{{usage-heading}} {{usage}}\n\n{list}Options:\n{{options}}\n\n\
         `pintle COMMAND --help` explains a command and gives examples.\n\
         First try: pintle diagnose captures/van3-injector-3-down-30.capture.csv.gz\n"
    ))
}

#[cfg(test)]
mod tests {
    use clap::CommandFactory;

    use super::*;
    use crate::cli::Arguments;

    #[test]
    fn every_command_is_in_one_group_in_the_order_of_work() {
        let command = Arguments::command();
        let commands: Vec<&str> = command.get_subcommands().map(Command::get_name).collect();
        let grouped: Vec<&str> = GROUPS
            .iter()
            .flat_map(|(_, names)| *names)
            .copied()
            .collect();
        assert_eq!(grouped, commands);
        for name in grouped {
            assert!(name.len() < GAP, "{name}");
        }
        // nothing wraps in a terminal of 80 columns
        let help = with_groups(command.clone()).render_help().to_string();
        for line in help.lines().filter(|line| line.starts_with("  ")) {
            assert!(line.chars().count() <= 80, "{line}");
        }
    }
}
