//! What a database error means: the one place where error codes are read.

use sqlx::error::DatabaseError;

use crate::error::{Clash, Error};

/// SQLite's primary result codes (the low byte of the extended one), <https://sqlite.org/rescode.html>, from memory.
mod sqlite_code {
    pub const BUSY: i32 = 5;
    pub const LOCKED: i32 = 6;
    pub const CORRUPT: i32 = 11;
    pub const FULL: i32 = 13;
    pub const CONSTRAINT: i32 = 19;
    pub const NOT_A_DATABASE: i32 = 26;
}

impl From<sqlx::Error> for Error {
    fn from(error: sqlx::Error) -> Self {
        match &error {
            sqlx::Error::Database(database) => classify(database.as_ref()),
            sqlx::Error::ColumnDecode { .. } | sqlx::Error::Decode(_) | sqlx::Error::TypeNotFound { .. } => {
                Self::Corrupt { detail: error.to_string() }
            }
            _ => Self::Unavailable { detail: error.to_string() },
        }
    }
}

fn classify(error: &dyn DatabaseError) -> Error {
    let detail = error.message().to_owned();
    if error.is_unique_violation() || error.is_foreign_key_violation() || error.is_check_violation() {
        return Error::clash(Clash::Constraint { detail });
    }
    let code = error.code().unwrap_or_default();
    match code.parse::<i32>() {
        // PostgreSQL's codes have five characters, SQLite's numbers at most four.
        Ok(number) if code.len() < 5 => match number & 0xff {
            sqlite_code::FULL => Error::Full { detail },
            sqlite_code::CORRUPT | sqlite_code::NOT_A_DATABASE => Error::Corrupt { detail },
            sqlite_code::CONSTRAINT => Error::clash(Clash::Constraint { detail }),
            sqlite_code::BUSY | sqlite_code::LOCKED => Error::Unavailable { detail },
            _ => Error::Unavailable { detail: format!("{detail} (code {number})") },
        },
        _ => match code.as_ref() {
            // PostgreSQL 15 manual, appendix A, from memory: character_not_in_repertoire, which is what a NUL is; serialization_failure, deadlock_detected; disk_full;
            // data_corrupted, index_corrupted.
            "22021" => Error::invalid("text", &detail, "text without control characters"),
            "40001" | "40P01" => Error::clash(Clash::Constraint { detail }),
            "53100" => Error::Full { detail },
            "XX001" | "XX002" => Error::Corrupt { detail },
            _ => Error::Unavailable { detail: format!("{detail} (code {code})") },
        },
    }
}
