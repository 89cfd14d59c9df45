"""A beginner's fingering chart."""

# Common practice, no published source: what any beginner's chart says, written notes.
CHART = {
    "F#3": "123", "G3": "13", "Ab3": "23", "A3": "12", "Bb3": "1", "B3": "2",
    "C4": "0", "C#4": "123", "D4": "13", "Eb4": "23", "E4": "12", "F4": "1", "F#4": "2",
    "G4": "0", "Ab4": "23", "A4": "12", "Bb4": "1", "B4": "2",
    "C5": "0", "C#5": "12", "D5": "1", "Eb5": "2", "E5": "0", "F5": "1", "F#5": "2",
    "G5": "0", "Ab5": "23", "A5": "12", "Bb5": "1", "B5": "2", "C6": "0",
}  # fmt: skip
