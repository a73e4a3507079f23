use job::JobError;
use std::io::Write;
use std::process::ExitCode;

/// Why a command did not do what was asked: one sentence, a hint, and an exit code.
pub(crate) struct Failure {
    sentence: String,
    hint: String,
    code: u8,
}

impl Failure {
    /// The command was given words it does not take: exit code 2.
    pub(crate) fn usage(sentence: impl Into<String>) -> Self {
        let hint = "see filmquilt --help".into();
        Self { sentence: sentence.into(), hint, code: 2 }
    }

    /// The work failed: exit code 1.
    pub(crate) fn new(sentence: impl Into<String>, hint: impl Into<String>) -> Self {
        Self { sentence: sentence.into(), hint: hint.into(), code: 1 }
    }

    /// Says it on stderr.
    pub(crate) fn report(self) -> ExitCode {
        // Nothing is left to do where even stderr is gone.
        let _ = writeln!(std::io::stderr(), "filmquilt: {}\nhint: {}", self.sentence, self.hint);
        ExitCode::from(self.code)
    }
}

impl From<JobError> for Failure {
    fn from(e: JobError) -> Self {
        Self::new(e.to_string(), e.hint())
    }
}

impl From<::shop::Error> for Failure {
    fn from(e: ::shop::Error) -> Self {
        Self::new(e.to_string(), e.hint())
    }
}
