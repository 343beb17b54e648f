"""The probe: everything that runs on the board, apart from pins and peripherals."""
