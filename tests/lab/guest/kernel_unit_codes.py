"""What the units of kernel_units.py list for 19 02: three bytes of code and failure type, one of status, in hex. Invented."""

TRANSMISSION_CODES = ["0711" "1F" "2F", "0741" "00" "28", "0731" "00" "2F", "0218" "00" "0C", "0897" "00" "08", "1ABC" "42" "09",
                      "D100" "00" "08", "0705" "11" "2F"]
BRAKE_CODES = [f"{0x4000 + i:04X}" "02" "08" for i in range(120)]  # one unit with a long list: several dozen frames
