"""Every error the tool raises on purpose: one line, lower case, the fix last."""


class LatewoodError(Exception):
    """Base of all errors that are shown to the user as one line."""


class ForbiddenError(LatewoodError):
    """The viewer's roles do not hold what was asked for."""


class SignInError(LatewoodError):
    """Somebody cannot be let in."""


class StaffError(LatewoodError):
    """The file of people and roles is wrong."""


class ServeError(LatewoodError):
    """The screens may not be served in this way."""


class FileUnreadableError(LatewoodError):
    """A file cannot be taken at all; nothing was changed."""


class MappingError(LatewoodError):
    """A mapping file is wrong."""


class CatalogueError(LatewoodError):
    """A measure in the catalogue, or in a program's own measures file, is wrong."""


class CatalogueFieldError(CatalogueError):
    """One field of an entry is wrong: `field` names it, `fault` says what is wrong, what is accepted and the fix."""

    def __init__(self, where: str, field: str, fault: str) -> None:
        """Keep field and fault for whoever lists several."""
        super().__init__(f"{where}, field '{field}': {fault}")
        self.field, self.fault = field, fault


class LandingError(LatewoodError):
    """The landing folder does not hold what its manifests say."""


class DesignError(LatewoodError):
    """A design that was asked about cannot be read or does not fit together."""


class DecisionError(LatewoodError):
    """A decision refers to something that is not there or cannot be applied."""


class EntryDoubtError(DecisionError):
    """A typed value does not fit its athlete: it is saved with `question` confirmed, or not at all."""

    def __init__(self, question: str) -> None:
        """Keep the question for whoever asks it."""
        super().__init__(f"not saved yet: {question}")
        self.question = question


class NotComputedError(LatewoodError, ValueError):
    """A number cannot be computed from these data; what does not rest on it goes on."""


class BuildError(LatewoodError):
    """A build could not be made; the published one is untouched."""


class OtherVersionError(BuildError):
    """The published build was made by another version of the tool: `whose` is 'older', 'newer' or 'other'."""

    def __init__(self, name: str, whose: str, fault: str) -> None:
        """Keep which of the two is older for whoever says it in other words."""
        super().__init__(f"{name}: {fault}")
        self.whose = whose


class EngineError(LatewoodError):
    """An engine cannot be started, or cannot read what it was given."""


class NothingPublishedError(LatewoodError):
    """There is no published warehouse to read."""


class AuditError(LatewoodError):
    """The audit log or the list of its tokens does not hold what was written."""


class ConsentError(LatewoodError):
    """A consent cannot be recorded, or what was asked for is not covered by one."""


class SummaryError(LatewoodError):
    """A recruiting summary cannot be made, or a file of one cannot be judged."""


class StorageError(LatewoodError):
    """Something could not be written to the disk; what was there before is as it was."""


class BusyError(LatewoodError):
    """Somebody else holds what is to be written."""


class BackupError(LatewoodError):
    """A backup cannot be made, read or restored."""


class NotebookError(LatewoodError):
    """A notebook asked for a folder, a measure, an athlete or a camp that is not there."""
