//! API keys.

use baycast_records::{Error, PageRequest, Reach, Scope, Thing};

use crate::databases::Database;
use crate::orchard::{FARM, at, planted};

const UNKNOWN: Error = Error::NotFound { what: Thing::Key, name: String::new() };

pub async fn shown_once_and_stored_hashed(database: Database) {
    let records = planted(&database).await;
    let reach = Reach::Farms(vec![FARM.into()]);
    let issued = records.create_key("probe", Scope::Write, reach.clone(), at(0)).await.unwrap();
    let admin = records.create_key("admin", Scope::Admin, Reach::All, at(0)).await.unwrap();
    // 256 bits in hexadecimal digits, after the prefix.
    assert_eq!(issued.text.len(), "bck_".len() + 64);
    assert_ne!(issued.text, admin.text);
    let found = records.authenticate(&issued.text, at(7200)).await.unwrap();
    assert_eq!((found.scope, &found.reach), (Scope::Write, &reach));
    assert!(found.reach.includes(FARM) && !found.reach.includes("other"));
    assert!(records.authenticate(&admin.text, at(1)).await.unwrap().reach.includes("other"));
    let mut wrong = issued.text.clone();
    let last = if wrong.pop() == Some('0') { '1' } else { '0' };
    wrong.push(last);
    for text in [wrong.as_str(), "", "bck_", &issued.key.id] {
        assert_eq!(records.authenticate(text, at(1)).await.unwrap_err(), UNKNOWN, "{text}");
    }
    // Last use is kept to the hour.
    let used = found.last_used_at.unwrap();
    assert_eq!(used.as_second() % 3600, 0);
    assert!((0..3600).contains(&(at(7200).as_second() - used.as_second())));
    let listed = records.keys(&PageRequest::default()).await.unwrap().items;
    assert_eq!(listed.len(), 2);
    assert!(listed.iter().any(|key| key.last_used_at == Some(used) && key.reach == reach));
    let missing = records.create_key("x", Scope::Read, Reach::Farms(vec!["none".into()]), at(0)).await;
    assert_eq!(missing.err(), Some(Error::NotFound { what: Thing::Farm, name: "none".into() }));
    assert_eq!(records.keys(&PageRequest::default()).await.unwrap().items.len(), 2);
}

pub async fn revoked_is_unknown(database: Database) {
    let records = planted(&database).await;
    let issued = records.create_key("probe", Scope::Read, Reach::All, at(0)).await.unwrap();
    let kept = records.create_key("kept", Scope::Read, Reach::All, at(0)).await.unwrap();
    records.authenticate(&issued.text, at(1)).await.unwrap();
    assert!(records.lets_in(&issued.key.id, "any").await.unwrap());
    let revoked = records.revoke_key(&issued.key.id, at(2)).await.unwrap();
    assert!(!records.lets_in(&issued.key.id, "any").await.unwrap());
    assert_eq!(revoked.revoked_at, Some(at(2)));
    assert_eq!(records.revoke_key(&issued.key.id, at(3)).await.unwrap().revoked_at, Some(at(2)));
    assert_eq!(records.authenticate(&issued.text, at(4)).await.unwrap_err(), UNKNOWN);
    records.authenticate(&kept.text, at(4)).await.unwrap();
    assert!(records.revoke_key("key_none", at(5)).await.is_err());
}
