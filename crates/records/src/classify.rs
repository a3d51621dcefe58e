//! What a database error means: the one place where error codes are read.

use sqlx::error::DatabaseError;

use crate::error::{Clash, Error};

/// SQLite's primary result codes (the low byte of the extended one), <https://sqlite.org/rescode.html>, from memory.
mod sqlite_code {
    pub const BUSY: i32 = 5;
    pub const LOCKED: i32 = 6;
    pub const READ_ONLY: i32 = 8;
    pub const CORRUPT: i32 = 11;
    pub const FULL: i32 = 13;
    pub const CANNOT_OPEN: i32 = 14;
    pub const CONSTRAINT: i32 = 19;
    /// Extended codes of IOERR: WRITE, FSYNC, DIR_FSYNC, TRUNCATE. A disk that was put to read-only for its own faults says so.
    pub const WRITES_THAT_FAIL: [i32; 4] = [778, 1034, 1290, 1546];
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
        Ok(number) if code.len() < 5 && sqlite_code::WRITES_THAT_FAIL.contains(&number) => {
            Error::ReadOnly { detail: format!("{detail} (code {number})") }
        }
        // PostgreSQL's codes have five characters, SQLite's numbers at most four.
        Ok(number) if code.len() < 5 => match number & 0xff {
            sqlite_code::FULL => Error::Full { detail },
            sqlite_code::READ_ONLY => Error::ReadOnly { detail },
            sqlite_code::CORRUPT | sqlite_code::NOT_A_DATABASE => Error::Corrupt { detail },
            sqlite_code::CONSTRAINT => Error::clash(Clash::Constraint { detail }),
            sqlite_code::CANNOT_OPEN => {
                Error::Unavailable { detail: format!("{detail}: its folder must be there and take files") }
            }
            sqlite_code::BUSY | sqlite_code::LOCKED => Error::Unavailable { detail },
            _ => Error::Unavailable { detail: format!("{detail} (code {number})") },
        },
        _ => match code.as_ref() {
            // PostgreSQL 15 manual, appendix A, from memory: character_not_in_repertoire, which is what a NUL is; serialization_failure, deadlock_detected; disk_full; read_only_sql_transaction;
            // data_corrupted, index_corrupted.
            "22021" => Error::invalid("text", &detail, "text without control characters"),
            "40001" | "40P01" => Error::clash(Clash::Constraint { detail }),
            "53100" => Error::Full { detail },
            "25006" => Error::ReadOnly { detail },
            "XX001" | "XX002" => Error::Corrupt { detail },
            _ => Error::Unavailable { detail: format!("{detail} (code {code})") },
        },
    }
}

#[cfg(test)]
mod tests {
    use std::borrow::Cow;
    use std::fmt;

    use sqlx::error::ErrorKind;

    use super::*;

    /// An error as a driver gives it.
    #[derive(Debug)]
    struct Given(&'static str);

    impl fmt::Display for Given {
        fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
            f.write_str(self.0)
        }
    }

    impl std::error::Error for Given {}

    impl DatabaseError for Given {
        fn message(&self) -> &'static str {
            "detail"
        }

        fn code(&self) -> Option<Cow<'_, str>> {
            Some(self.0.into())
        }

        fn as_error(&self) -> &(dyn std::error::Error + Send + Sync + 'static) {
            self
        }

        fn as_error_mut(&mut self) -> &mut (dyn std::error::Error + Send + Sync + 'static) {
            self
        }

        fn into_error(self: Box<Self>) -> Box<dyn std::error::Error + Send + Sync + 'static> {
            self
        }

        fn kind(&self) -> ErrorKind {
            ErrorKind::Other
        }
    }

    #[test]
    fn codes_of_both_databases_mean_the_same() {
        let kind = |code| match Error::from(sqlx::Error::Database(Box::new(Given(code)))) {
            Error::Full { .. } => "full",
            Error::ReadOnly { .. } => "read only",
            Error::Corrupt { .. } => "corrupt",
            Error::Unavailable { .. } => "unavailable",
            Error::Conflict { .. } => "conflict",
            Error::Invalid { .. } => "invalid",
            other => panic!("{other}"),
        };
        for (code, expected) in [
            ("13", "full"),
            ("53100", "full"),
            ("8", "read only"),
            // SQLITE_READONLY_DIRECTORY, an extended code of 8.
            ("1544", "read only"),
            ("25006", "read only"),
            // SQLITE_IOERR_WRITE; SQLITE_IOERR_READ.
            ("778", "read only"),
            ("266", "unavailable"),
            ("11", "corrupt"),
            // SQLITE_CORRUPT_INDEX, an extended code of 11.
            ("779", "corrupt"),
            ("26", "corrupt"),
            ("XX001", "corrupt"),
            ("5", "unavailable"),
            // SQLITE_BUSY_SNAPSHOT, an extended code of 5.
            ("517", "unavailable"),
            ("10", "unavailable"),
            // admin_shutdown, too_many_connections.
            ("57P01", "unavailable"),
            ("53300", "unavailable"),
            // serialization_failure, deadlock_detected.
            ("40001", "conflict"),
            ("40P01", "conflict"),
            ("22021", "invalid"),
        ] {
            assert_eq!(kind(code), expected, "{code}");
        }
        assert!(matches!(Error::from(sqlx::Error::PoolTimedOut), Error::Unavailable { .. }));
    }
}
