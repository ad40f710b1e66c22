interface InstallSteps {
  readonly system: string;
  /** Kinds of device, as `deviceKindOf` names them. */
  readonly kinds: RegExp;
  readonly steps: readonly string[];
}

/** From memory, as the systems name their menus in English; versions differ. */
export const INSTALL_STEPS: readonly InstallSteps[] = [
  {
    system: 'iPhone and iPad',
    kinds: /^iP/,
    steps: [
      'Open this page in the browser that came with the device, press “Download the certificate”, then “Allow”.',
      'Open Settings. Near the top, tap “Profile Downloaded”, then “Install”, and enter the code of the device.',
      'Go to Settings → General → About → Certificate Trust Settings, and turn on the certificate of the house. Without this step it is installed but not used.',
    ],
  },
  {
    system: 'Android',
    kinds: /^Android/,
    steps: [
      'Press “Download the certificate”.',
      'Open Settings and search for “CA certificate”. It is usually under Security → More security settings → Install from storage.',
      'Tap “CA certificate”, then “Install anyway”, and choose the downloaded file.',
      'Some browsers only use certificates that you have installed after you allow it in their own settings.',
    ],
  },
  {
    system: 'Windows',
    kinds: /^Windows/,
    steps: [
      'Press “Download the certificate” and open the file.',
      'Press “Install Certificate…”, choose “Current User”, then “Next”.',
      'Choose “Place all certificates in the following store”, press “Browse…”, and choose “Trusted Root Certification Authorities”.',
      'Press “Finish”, and “Yes” when Windows asks.',
    ],
  },
  {
    system: 'Mac',
    kinds: /^Mac/,
    steps: [
      'Press “Download the certificate” and open the file. It is added to Keychain Access.',
      'In Keychain Access, double-click the certificate of the house and open “Trust”.',
      'Set “When using this certificate” to “Always Trust”, close the window, and enter your password.',
    ],
  },
  {
    system: 'Linux',
    kinds: /^(?:Linux|Chromebook)/,
    steps: [
      'Press “Download the certificate”.',
      'In the settings of the browser, search for “certificates”, and open the list of authorities.',
      'Import the file there, and allow it to identify websites.',
    ],
  },
];

/** @param kind of this device; null = not known */
export const isFor = ({ kinds }: InstallSteps, kind: string | null): boolean => kind !== null && kinds.test(kind);
