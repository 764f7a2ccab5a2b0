//! How letters look. Colour only repeats what a word, a sign or a letter's weight says already, so that the screen is the
//! same without it.

use ratatui::style::{Color, Modifier, Style};

// Nobody tells whether the terminal's ground is dark or light. So these stand midway between black and white, and are of
// the colours that are the same on every terminal: the first 16 are each terminal's, or its owner's, own, and cyan and
// yellow among them are mostly too light for a light ground.

/// Units, axes and explanations: 243 of the 256 colours.
const GREY: Color = Color::Indexed(243);

/// Readings that count, and keys: 31 of the 256 colours.
const BLUE: Color = Color::Indexed(31);

/// What the person should see to, and what stands out: 166 of the 256 colours.
const AMBER: Color = Color::Indexed(166);

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
        if self.colour {
            Style::new().fg(GREY)
        } else {
            Style::new().add_modifier(Modifier::DIM)
        }
    }

    /// Readings that count.
    pub fn counts(self) -> Style {
        self.tinted(BLUE)
    }

    /// Keys and what is being typed.
    pub fn key(self) -> Style {
        self.tinted(BLUE).add_modifier(Modifier::BOLD)
    }

    /// Something that the person should see to.
    pub fn trouble(self) -> Style {
        self.tinted(AMBER)
            .add_modifier(Modifier::BOLD | Modifier::REVERSED)
    }

    /// A cylinder or a cause that stands out.
    pub fn stands_out(self) -> Style {
        self.tinted(AMBER).add_modifier(Modifier::BOLD)
    }

    fn tinted(self, colour: Color) -> Style {
        if self.colour {
            Style::new().fg(colour)
        } else {
            Style::new()
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Red, green and blue of the 256 colours, 0 to 1: a cube of six steps from 16 on, greys from 232 on (ECMA-48 leaves
    /// the table to the terminal; this is the one of xterm that all others took over).
    fn channels(index: u8) -> [f64; 3] {
        let step = |step: u8| match step {
            0 => 0.0,
            step => (55.0 + 40.0 * f64::from(step)) / 255.0,
        };
        match index {
            ..16 => panic!("{index} is the terminal's own"),
            16..232 => [(index - 16) / 36, (index - 16) / 6 % 6, (index - 16) % 6].map(step),
            232.. => [(8.0 + 10.0 * f64::from(index - 232)) / 255.0; 3],
        }
    }

    /// Relative luminance, 0 black to 1 white (WCAG 2.1, definition of "relative luminance").
    fn luminance(index: u8) -> f64 {
        let [red, green, blue] = channels(index).map(|share| {
            if share <= 0.03928 {
                share / 12.92
            } else {
                ((share + 0.055) / 1.055).powf(2.4)
            }
        });
        0.2126 * red + 0.7152 * green + 0.0722 * blue
    }

    #[test]
    fn every_colour_can_be_read_on_black_and_on_white() {
        // WCAG 2.1: 4.5 for text, 3 for bold or large text and for graphics
        let theme = Theme { colour: true };
        for (style, least) in [
            (theme.quiet(), 4.5),
            (theme.counts(), 3.0),
            (theme.key(), 3.0),
            (theme.trouble(), 3.0),
            (theme.stands_out(), 3.0),
        ] {
            let Some(Color::Indexed(index)) = style.fg else {
                panic!("{style:?}: not of the 256 colours");
            };
            let on_white = 1.05 / (luminance(index) + 0.05);
            let on_black = (luminance(index) + 0.05) / 0.05;
            assert!(on_white >= least && on_black >= least, "{style:?}");
        }
    }
}
