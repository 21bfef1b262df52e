//! The arguments of a command that writes an event, made from the fields of its kind.

use clap::builder::ValueParser;
use clap::error::Error;
use clap::{Arg, ArgAction, ArgMatches, Args, Command, FromArgMatches};

use crate::edge::draft::{Draft, check};
use crate::firing::fields::{Field, Of};
use crate::firing::{FiringId, Kind};
use crate::words;

const AT: &str = "When it happened, if not now: 9:10, \"20 min ago\", \"yesterday 21:40\" or a full date and time.";
const FIRING: &str = "The number of the firing, if the present one of this kiln is not meant.";
const TAKES_BACK: &str = "; an empty text, \"\", takes back what was said before.";

/// What was typed after a command that writes an event of this kind. `AGAIN`: what was said before
/// holds where nothing is said now.
#[derive(Debug)]
pub struct Entered<const KIND: i64, const AGAIN: bool>(pub Said);

/// What was typed of one event.
#[derive(Debug, Clone)]
pub struct Said {
    pub kind: Kind,
    /// The kiln it is about, or the name of what is described.
    pub kiln: String,
    pub fields: Vec<(&'static Field, Vec<String>)>,
    pub at: Option<String>,
    pub firing: Option<FiringId>,
}

impl Said {
    /// The draft with what was typed in place of what it said.
    pub fn over(&self, mut draft: Draft) -> Draft {
        for (field, texts) in &self.fields {
            draft.say_all(field.key, texts.iter().cloned());
        }
        draft
    }

    /// What was typed of one field.
    pub fn text(&self, key: &str) -> Option<&str> {
        let said = self.fields.iter().find(|(field, _)| field.key == key);
        said.and_then(|(_, texts)| texts.first()).map(String::as_str)
    }

    fn of(kind: Kind, matches: &ArgMatches) -> Said {
        let one = |id: &str| matches.try_get_one::<String>(id).ok().flatten().cloned();
        let said = |field: &'static Field| {
            let texts = matches.try_get_many::<String>(field.argument.0).ok().flatten()?;
            Some((field, texts.cloned().collect()))
        };
        Said {
            kind,
            kiln: one(kind.name_field().map_or("kiln", |name| name.argument.0)).unwrap_or_default(),
            fields: kind
                .fields()
                .iter()
                .filter(|field| field.is_entered())
                .filter_map(said)
                .collect(),
            at: one("at"),
            firing: matches.try_get_one::<FiringId>("firing").ok().flatten().copied(),
        }
    }
}

impl<const KIND: i64, const AGAIN: bool> Entered<KIND, AGAIN> {
    fn kind() -> Kind {
        Kind::numbered(KIND).expect("a command is of a kind there is")
    }
}

impl<const KIND: i64, const AGAIN: bool> FromArgMatches for Entered<KIND, AGAIN> {
    fn from_arg_matches(matches: &ArgMatches) -> Result<Self, Error> {
        Ok(Entered(Said::of(Self::kind(), matches)))
    }

    fn update_from_arg_matches(&mut self, matches: &ArgMatches) -> Result<(), Error> {
        self.0 = Said::of(Self::kind(), matches);
        Ok(())
    }
}

impl<const KIND: i64, const AGAIN: bool> Args for Entered<KIND, AGAIN> {
    fn augment_args(command: Command) -> Command {
        let kind = Self::kind();
        let describes = kind.describes();
        let kiln = Arg::new("kiln").required(true).help("The kiln, for example North.");
        let firing = |text: &str| words::read_number("firing", text).map(FiringId);
        let at = Arg::new("at").long("at").value_name("TIME").help(AT);
        let firing =
            Arg::new("firing").long("firing").value_name("ID").help(FIRING).value_parser(firing);
        let fields = kind.fields().iter().filter(|field| field.is_entered());
        command
            .args((!describes && !kind.is_of_the_bench()).then_some(kiln))
            .args(fields.map(|field| argument(field, AGAIN)))
            .args((!describes).then_some(at))
            .args((!kind.is_of_the_shop() && kind != Kind::Lit).then_some(firing))
    }

    fn augment_args_for_update(command: Command) -> Command {
        Self::augment_args(command)
    }
}

/// The argument that says a field.
fn argument(field: &'static Field, again: bool) -> Arg {
    let (id, value) = match field.argument {
        (id, "") => (id, id.to_uppercase()),
        (id, value) => (id, value.to_owned()),
    };
    let required = field.needed && field.usual.is_empty() && (field.in_place || !again);
    let takes_back = again
        && !field.needed
        && matches!(field.of, Of::Text(_) | Of::Count | Of::Money | Of::Kilowatts | Of::TimeOfDay);
    let help = match field.about.strip_suffix('.').filter(|_| takes_back) {
        Some(about) => format!("{about}{TAKES_BACK}"),
        None => field.about.to_owned(),
    };
    let argument = Arg::new(id).value_name(value).help(help).required(required);
    let argument = match field.in_place {
        true => argument,
        false => argument.long(id.replace('_', "-")),
    };
    let read = move |text: &str| match text.trim().is_empty() && !field.needed {
        true => Ok(String::new()),
        false => check(field, text).map(|_| text.to_owned()),
    };
    argument
        .action(if field.is_many() { ArgAction::Append } else { ArgAction::Set })
        .allow_hyphen_values(field.of == Of::Temperature)
        .value_parser(ValueParser::new(read))
}
