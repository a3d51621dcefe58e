//! Who calls, and what they may do with which farm.

use std::sync::atomic::Ordering;

use baycast_records::{Reach, Scope};

use crate::error::Error;
use crate::records::refusal;
use crate::service::Service;

/// The id under which a caller without a key records, where none is needed.
const LOCAL: &str = "local";

/// Someone whose key is good, or anyone while there are no keys.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Caller {
    id: String,
    scope: Scope,
    reach: Reach,
}

impl Caller {
    /// Whoever can open the store itself, as the command line does: no key is asked for that they could not make.
    #[must_use]
    pub fn of_the_store() -> Self {
        Self { id: LOCAL.to_owned(), scope: Scope::Admin, reach: Reach::All }
    }

    /// Someone whom the service itself lets in.
    pub(super) fn new(id: &str, scope: Scope, reach: Reach) -> Self {
        Self { id: id.to_owned(), scope, reach }
    }

    /// The id of the key, which stands beside everything recorded with it.
    #[must_use]
    pub fn id(&self) -> &str {
        &self.id
    }

    /// The farms within reach.
    pub(super) fn reach(&self) -> &Reach {
        &self.reach
    }

    /// Whether this is allowed on a farm. One out of reach is not found, whether it is there or not.
    pub(crate) fn may(&self, farm: &str, needed: Scope) -> Result<(), Error> {
        if !self.reach.includes(farm) {
            return Err(Error::NotFound { what: "farm", name: farm.to_owned() });
        }
        self.at_least(needed)
    }

    /// Whether changes of a farm and what it owns are allowed: asked first where a change begins with reading.
    pub fn may_write(&self, farm: &str) -> Result<(), Error> {
        self.may(farm, Scope::Write)
    }

    /// Whether this is allowed where no farm is named yet.
    pub(super) fn at_least(&self, needed: Scope) -> Result<(), Error> {
        if self.scope >= needed { Ok(()) } else { Err(Error::Forbidden { needed: needed.as_str() }) }
    }

    /// Whether what concerns all farms is allowed: creating farms, and keys.
    pub(super) fn administers_all(&self) -> Result<(), Error> {
        self.at_least(Scope::Admin)?;
        match self.reach {
            Reach::All => Ok(()),
            Reach::Farms(_) => Err(Error::Forbidden { needed: "admin of all farms" }),
        }
    }
}

impl Service {
    /// Who calls with the key `text`, or without one. Asked once for each request, before anything else.
    pub async fn caller(&self, text: Option<&str>) -> Result<Caller, Error> {
        let store = self.store()?;
        if let Some(text) = text {
            let key = store.records.authenticate(text, store.now()).await.map_err(|error| match error {
                baycast_records::Error::NotFound { .. } => Error::Unauthenticated,
                other => refusal::of(other),
            })?;
            store.keyed.store(true, Ordering::Relaxed);
            self.count(&key.id)?;
            return Ok(Caller { id: key.id, scope: key.scope, reach: key.reach });
        }
        if !store.keyed.load(Ordering::Relaxed) {
            if !store.records.has_keys().await.map_err(refusal::of)? {
                return Ok(Caller::of_the_store());
            }
            store.keyed.store(true, Ordering::Relaxed);
        }
        Err(Error::Unauthenticated)
    }

    /// Whether what let the caller in to a farm still does: asked again by what goes on for long.
    pub(crate) async fn still_lets_in(&self, caller: &Caller, farm: &str) -> Result<(), Error> {
        let store = self.store()?;
        let good = if caller.id == LOCAL {
            !store.records.has_keys().await.map_err(refusal::of)?
        } else {
            store.records.lets_in(&caller.id, farm).await.map_err(refusal::of)?
        };
        if good { Ok(()) } else { Err(Error::Unauthenticated) }
    }

    /// Lets in whoever asks for what is no farm's: anyone where there are no records, else as [`Service::caller`] does.
    pub async fn admit(&self, text: Option<&str>) -> Result<(), Error> {
        if self.store().is_err() {
            return Ok(());
        }
        self.caller(text).await.map(drop)
    }
}

/// The key that an `Authorization` header shows, where there is one: its bearer token (RFC 6750 section 2.1), the scheme's
/// name in any case (RFC 9110 section 11.1). What is no key at all is like one that is unknown.
#[must_use]
pub fn key_shown(header: Option<&[u8]>) -> Option<&str> {
    let bearer = |header| {
        let (scheme, token) = std::str::from_utf8(header).ok()?.trim().split_once(' ')?;
        scheme.eq_ignore_ascii_case("bearer").then(|| token.trim())
    };
    Some(bearer(header?).unwrap_or_default())
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn only_a_bearer_key_is_one() {
        assert_eq!(key_shown(None), None);
        for shown in ["Bearer bck_1", "bearer  bck_1"] {
            assert_eq!(key_shown(Some(shown.as_bytes())), Some("bck_1"), "{shown}");
        }
        for other in ["bck_1", "Basic bck_1", "", "Bearer"] {
            assert_eq!(key_shown(Some(other.as_bytes())), Some(""), "{other}");
        }
        assert_eq!(key_shown(Some(b"Bearer \xff")), Some(""));
    }

    #[test]
    fn a_farm_out_of_reach_is_not_found_whatever_the_scope() {
        for scope in [Scope::Read, Scope::Write, Scope::Admin] {
            let caller = Caller { id: "k".to_owned(), scope, reach: Reach::Farms(vec!["mine".to_owned()]) };
            let missing = Error::NotFound { what: "farm", name: "theirs".to_owned() };
            assert_eq!(caller.may("theirs", Scope::Read), Err(missing.clone()));
            assert_eq!(caller.may("theirs", Scope::Admin), Err(missing));
            assert_eq!(caller.may("mine", Scope::Read), Ok(()));
            assert_eq!(caller.may("mine", Scope::Admin).is_ok(), scope == Scope::Admin);
            assert!(matches!(caller.administers_all(), Err(Error::Forbidden { .. })));
        }
    }
}
