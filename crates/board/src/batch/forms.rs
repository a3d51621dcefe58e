//! The forms for what is seen at the heap.

use std::collections::BTreeMap;

use baycast_service::records::FarmBay;
use baycast_service::{Error, Service};
use jiff::civil::DateTime;

use crate::access::Access;
use crate::note::{self, Choices, Filled, Input, Kind};
use crate::{dates, words};

/// A form.
pub struct Form {
    /// What it tells of, as it is sent and in words.
    pub kind: &'static str,
    pub title: &'static str,
    /// Whether it stands open.
    pub open: bool,
    /// Its fields, that for the time last.
    pub fields: Vec<Row>,
    /// What is wrong with it as a whole.
    pub fault: Option<String>,
    /// Its own name for what it tells.
    pub key: String,
}

/// A field.
pub struct Row {
    /// Its id, unique on the page.
    pub id: String,
    /// Its name.
    pub name: &'static str,
    /// What it asks for.
    pub label: &'static str,
    /// How.
    pub shown: Shown,
    /// What stands in it.
    pub value: String,
    /// What is wrong with it.
    pub fault: Option<String>,
}

/// How a field is shown.
pub enum Shown {
    /// A number.
    Number,
    /// A day and a time.
    When,
    /// Some words side by side.
    Few(Vec<(String, String)>),
    /// A list that opens.
    Many(Vec<(String, String)>),
}

/// All forms; one that was sent and not taken has what was told, and what is wrong with it.
pub fn all(choices: &Choices, filled: Option<&Filled>, now: DateTime) -> Result<Vec<Form>, Error> {
    let form = |kind: Kind| {
        let filled = filled.filter(|filled| filled.kind == kind);
        let mut fields: Vec<Row> = kind
            .fields(choices)
            .into_iter()
            .map(|field| {
                let (shown, usual) = match field.input {
                    Input::Number => (Shown::Number, String::new()),
                    Input::Few(words) => {
                        let first = words.first().map(|(value, _)| value.clone()).unwrap_or_default();
                        (Shown::Few(words), first)
                    }
                    Input::Many(words) => (Shown::Many(words), String::new()),
                };
                row(kind, field.name, field.label, shown, usual, filled)
            })
            .collect();
        fields.push(row(kind, "when", words::WHEN, Shown::When, dates::field(now), filled));
        let whole = filled.and_then(|filled| filled.faults.iter().find(|fault| fault.field.is_empty()));
        Ok(Form {
            kind: kind.word(),
            title: words::note(kind),
            open: filled.is_some(),
            fields,
            fault: whole.map(|fault| fault.text.clone()),
            key: note::new_key()?,
        })
    };
    Kind::ALL.into_iter().map(form).collect()
}

fn row(
    kind: Kind,
    name: &'static str,
    label: &'static str,
    shown: Shown,
    usual: String,
    filled: Option<&Filled>,
) -> Row {
    let told = filled.and_then(|filled| filled.pairs.iter().find(|(given, _)| given == name));
    let fault = filled.and_then(|filled| filled.faults.iter().find(|fault| fault.field == name));
    Row {
        id: format!("{}-{name}", kind.word()),
        name,
        label,
        shown,
        value: told.map_or(usual, |(_, value)| value.clone()),
        fault: fault.map(|fault| fault.text.clone()),
    }
}

/// What there is to choose from.
pub async fn choices(service: &Service, access: &Access, bays: &[FarmBay]) -> Result<Choices, Error> {
    let mut materials: Vec<_> = names(service, access).await?.into_iter().collect();
    materials.sort_by(|one, other| one.1.cmp(&other.1));
    let bays = bays.iter().map(|own| (own.bay.id.clone(), own.bay.id.clone())).collect();
    Ok(Choices { materials, bays })
}

/// Names of materials by their ids: the farm's own, and those of the default table.
pub async fn names(service: &Service, access: &Access) -> Result<BTreeMap<String, String>, Error> {
    let mut names = BTreeMap::new();
    let mut token = String::new();
    loop {
        let page = service.feedstocks(None, &token)?;
        names.extend(page.items.into_iter().map(|own| (own.id, own.name)));
        match page.next_page_token {
            Some(next) => token = next,
            None => break,
        }
    }
    token.clear();
    loop {
        let page = service.list_farm_feedstocks(&access.caller, &access.farm, None, &token).await?;
        let own = page.items.into_iter().map(|own| own.feedstock);
        names.extend(own.map(|own| (own.id, own.name)));
        match page.next_page_token {
            Some(next) => token = next,
            None => return Ok(names),
        }
    }
}

impl Row {
    /// Whether it is a group of words side by side.
    pub fn is_few(&self) -> bool {
        matches!(self.shown, Shown::Few(_))
    }
}
