"""Why a ledger cannot be read or written just now."""

from shared.phrases import Template

PART_DAMAGED = Template("part_damaged", "a file that is missing or damaged ({why})")
PART_AS_WRITTEN = Template("part_as_written", "a file of this ledger as it was written")
CHECK_FILES = Template("check_files", "see with strokeledger check which files to load again")
LEDGER_FOLDER = Template("ledger_folder", "the ledger's folder {folder}")
NOTHING_KEPT = Template("nothing_kept", "{why}; nothing of this load is kept")
FOLDER_WITH_SPACE = Template("folder_with_space", "a folder with free space that can be written to")
MEND_DISK = Template("mend_disk", "mend the disk or its rights, then load again")
STILL_BUSY = Template("still_busy", "{what} after {n} seconds")
OTHER_UPKEEP = Template("other_upkeep", "a backup or an upkeep still at work")
OTHER_LOAD = Template("other_load", "another load still at work")
ONE_AT_A_TIME = Template("one_at_a_time", "one at a time")
WAIT_FOR_END = Template("wait_for_end", "wait until it has ended, then go on")
OLD_FACTS_VERSION = Template("old_facts_version", "version {version}")
OLD_FACTS = Template("old_facts", "facts reckoned by the rules of an older release")
NEWER_VERSION = Template("newer_version", "a version reckoned by this release, from {version} on")
NAME_NEWER_VERSION = Template(
    "name_newer_version",
    "name a newer version, or open the ledger with this release once, which reckons it anew",
)
CATALOGUE_READABLE = Template("catalogue_readable", "a catalogue that can be read")
CHECK_LEDGER = Template("check_ledger", "see with strokeledger check what is wrong")
FOLDER_LOST = Template("folder_lost", "the folder cannot be looked into: {why}")
