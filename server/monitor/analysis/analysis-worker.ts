import { answerCalls } from '../../worker/answer-calls.ts';
import { createSpoolFunctions } from './spool-functions.ts';

answerCalls(createSpoolFunctions);
