//! How letters look. Colour only repeats what a word, a sign or a letter's weight says already, so that the screen is the
//! same without it.

use ratatui::style::{Color, Modifier, Style};

/// With or without colour.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Theme {
    /// Whether the terminal is to show colours.
    pub colour: bool,
}

impl Theme {
    /// Headings and what matters most.
    pub fn strong(self) -> Style {
        Style::new().add_modifier(Modifier::BOLD)
    }

    /// Units, axes, what only explains.
    pub fn quiet(self) -> Style {
        match self.colour {
            true => Style::new().fg(Color::DarkGray),
            false => Style::new().add_modifier(Modifier::DIM),
        }
    }

    /// Readings that count.
    pub fn counts(self) -> Style {
        self.tinted(Color::Cyan)
    }

    /// Keys and what is being typed.
    pub fn key(self) -> Style {
        self.tinted(Color::Cyan).add_modifier(Modifier::BOLD)
    }

    /// Something that the person should see to.
    pub fn trouble(self) -> Style {
        self.tinted(Color::Yellow)
            .add_modifier(Modifier::BOLD | Modifier::REVERSED)
    }

    /// A cylinder or a cause that stands out.
    pub fn stands_out(self) -> Style {
        self.tinted(Color::Yellow).add_modifier(Modifier::BOLD)
    }

    fn tinted(self, colour: Color) -> Style {
        match self.colour {
            true => Style::new().fg(colour),
            false => Style::new(),
        }
    }
}
